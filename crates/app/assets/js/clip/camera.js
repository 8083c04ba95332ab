// Where the camera stood: from the dots' own paths. A wheel seen from aside shows its circles as ellipses and its angles
// bent by up to two degrees; the correction finds the centre, the tilt, the dots' radii and the angle between them by robust
// least squares, so that on the wheel itself the dots stay on circles and the angle between them stays the same.
//
// Room coordinates on the wheel: right and down as seen, pixels at the centre's distance; angles counter-clockwise from
// straight down, radians in here.
import { toFirst } from "./marks.js";

/** @typedef {{x: number, y: number}} Point */
/** @typedef {import("./track.js").Step} Step */

/** Tilt about either axis, before the clip is looked at: sd, rad. A person stands about in front. */
const TILT_SD = (8 * Math.PI) / 180;
/** Focal length over the longer side of the picture: phones lie between 0.65 and 1.0, which moves the angle by 0.3° at most. */
export const FOCAL = 0.8;
/** Places of a dot are never better than this, pixels: compression, blur, rolling shutter. */
const LEAST_SD_PX = 0.15;
/** Pictures that the fit looks at; more tell no more. */
const MOST_PICTURES = 400;
/** How much less a better fit is believed with one dot. Found on 400 computed cameras with focal lengths of 0.65 to 1.0 of the side. */
const ONE_DOT_TEMPER = 5;
/** Neighbouring pictures share their errors (blur, shutter, shading): no more than so many count as independent. */
const INDEPENDENT = 40;
/** Errors of the angle as a whole that no clip shows: focal length ±0.25 of the side (0.3° at most, taken as two sd). Degrees. */
const FOCAL_SD_DEG = 0.15;
/** What a lens and a rolling shutter bend angles by round the turn and no fit here corrects. Measured on the two clips of
 * reference/clips, rounded up. Degrees. */
const LENS_SD_DEG = 0.06;
/** A hand-held or propped phone stands upright to so much. Common practice, no source. Degrees. */
export const UPRIGHT_SD_DEG = 1.5;
/** The level of two marks: their places to half a pixel each. */
const MARK_SD_PX = 0.5;
/** Tilts from which the search starts, rad: straight, and a step to each side. */
const STARTS = [[0, 0], [0.17, 0.1], [0.17, -0.1], [-0.17, 0.1], [-0.17, -0.1]];

/**
 * @typedef {object} Camera
 * @property {Point} centre of the wheel in the first picture, pixels
 * @property {[number, number]} tilt rad, about the upright and the level axis of the picture
 * @property {Point} middle of the picture
 * @property {number} focal pixels
 * @property {[Point, Point]|null} level two places at the same height, in the first picture
 */

/**
 * @typedef {object} Solved
 * @property {Camera} camera
 * @property {number[]} radii of the dots, pixels
 * @property {number} between angle from dot A to dot B, rad counter-clockwise; NaN with one dot
 * @property {number} sd_px scatter of a dot's place
 * @property {number} tilt_deg angle between the line of sight to the centre and the arbor
 * @property {number} common_sd_deg sd of what all angles may be off by together
 * @property {number} bend_sd_deg sd of an error that goes round with the wheel: twice a turn with two dots, once with one
 * @property {number} turned_deg span of the angles seen
 */

/**
 * The wheel's plane as the camera sees it: `at` turns a place in the picture into right and down on the wheel, `back` the reverse.
 * @param {Camera} c
 * @returns {{at: (p: Point) => [number, number], back: (v: [number, number]) => Point}}
 */
export function wheelPlane(c) {
  const { centre, middle, focal } = c;
  const [sa, ca, sb, cb] = [Math.sin(c.tilt[0]), Math.cos(c.tilt[0]), Math.sin(c.tilt[1]), Math.cos(c.tilt[1])];
  const n = [sa, sb * ca, ca * cb];
  const C = [(centre.x - middle.x) / focal, (centre.y - middle.y) / focal, 1];
  const reach = n[0] * C[0] + n[1] * C[1] + n[2] * C[2];
  const place = (/** @type {Point} */ p) => {
    const [x, y] = [(p.x - middle.x) / focal, (p.y - middle.y) / focal];
    const s = reach / (n[0] * x + n[1] * y + n[2]);
    return [x * s - C[0], y * s - C[1], s - C[2]];
  };
  // Without marks the camera is taken to be upright: its sideways axis is level, so straight down on the wheel has no part of it.
  let down = [0, n[2], -n[1]];
  if (c.level) {
    const [l, r] = c.level[0].x <= c.level[1].x ? c.level : [c.level[1], c.level[0]];
    const [a, b] = [place(l), place(r)];
    // Both lie in one plane parallel to the wheel's; its distance does not matter to the direction.
    down = cross(n, [b[0] - a[0], b[1] - a[1], b[2] - a[2]]);
  }
  const length = Math.hypot(down[0], down[1], down[2]);
  const d = down.map((v) => v / length);
  const r = cross(d, n);
  return {
    at: (p) => {
      const v = place(p);
      return [focal * (v[0] * r[0] + v[1] * r[1] + v[2] * r[2]), focal * (v[0] * d[0] + v[1] * d[1] + v[2] * d[2])];
    },
    back: ([right, low]) => {
      const [x, y, z] = [0, 1, 2].map((k) => C[k] + (right * r[k] + low * d[k]) / focal);
      return { x: (x / z) * focal + middle.x, y: (y / z) * focal + middle.y };
    },
  };
}

/** @param {number[]} a @param {number[]} b */
function cross(a, b) {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
}

/** Into (−π, π]. @param {number} a */
export function wrapPi(a) {
  return a - 2 * Math.PI * Math.ceil((a - Math.PI) / (2 * Math.PI));
}

/**
 * Find the camera.
 * @param {object} from
 * @param {Step[]} from.steps
 * @param {{width: number, height: number}} from.size of the pictures
 * @param {Point} from.centre as tapped or found, in the first picture
 * @param {number} from.centreSd_px how well
 * @param {[Point, Point]|null} from.level the two fixed marks in the first picture
 * @param {number} [from.focal] over the longer side
 * @returns {Solved|null} null when hardly any picture shows a dot
 */
export function solveCamera({ steps, size, centre, centreSd_px, level, focal = FOCAL }) {
  const usable = steps.filter((s) => s.dots.some((d) => d.ok));
  if (usable.length < 8) return null;
  const every = Math.ceil(usable.length / MOST_PICTURES);
  const places = usable.filter((_, i) => i % every === 0).map((s) => s.dots.map((d) => (d.ok ? toFirst(s.toFirst, d) : null)));
  const dots = steps[0].dots.length;
  const fixed = { middle: { x: (size.width - 1) / 2, y: (size.height - 1) / 2 }, focal: focal * Math.max(size.width, size.height), level };
  const problem = { places, dots, centre, centreSd_px, fixed };

  const minima = STARTS.map((tilt) => minimise(problem, start(problem, tilt))).sort((a, b) => a.cost - b.cost);
  const best = minima[0];
  // One dot's ellipse hardly tells from which side it is seen, and a centre that is off pulls the search to one side: the
  // camera straight in front and the one mirrored are tried too, for the uncertainty.
  if (dots === 1) for (const side of [0, -1]) minima.push(minimise(problem, start(problem, [side * best.p[2], side * best.p[3]]), true));
  const { p, sd_px } = best;
  const camera = cameraOf(p, fixed);
  const look = Math.acos(Math.min(1, facing(camera)));
  const angles = places.map((pair) => angleOf(pair, p, wheelPlane(camera).at)).filter(Number.isFinite);
  return {
    camera,
    radii: [...p.slice(4, 4 + dots)],
    between: dots === 2 ? wrapPi(p[6]) : NaN,
    sd_px,
    tilt_deg: (look * 180) / Math.PI,
    ...sharedErrors(problem, best, minima.slice(1)),
    turned_deg: (span(angles) * 180) / Math.PI,
  };
}

/** Cosine between the wheel's axis and the line of sight to its centre. @param {Camera} c */
function facing(c) {
  const [sa, ca, sb, cb] = [Math.sin(c.tilt[0]), Math.cos(c.tilt[0]), Math.sin(c.tilt[1]), Math.cos(c.tilt[1])];
  const C = [(c.centre.x - c.middle.x) / c.focal, (c.centre.y - c.middle.y) / c.focal, 1];
  return (sa * C[0] + sb * ca * C[1] + ca * cb * C[2]) / Math.hypot(C[0], C[1], C[2]);
}

/** @param {number[]} angles rad, following one another */
function span(angles) {
  let [at, low, high] = [0, 0, 0];
  for (let i = 1; i < angles.length; i++) {
    at += wrapPi(angles[i] - angles[i - 1]);
    [low, high] = [Math.min(low, at), Math.max(high, at)];
  }
  return high - low;
}

/**
 * @typedef {object} Problem
 * @property {(Point|null)[][]} places of the dots, in the first picture's coordinates
 * @property {number} dots
 * @property {Point} centre
 * @property {number} centreSd_px
 * @property {{middle: Point, focal: number, level: [Point, Point]|null}} fixed
 */

/** Parameters: centre x, y; two tilts; radius of each dot; angle between them. @typedef {number[]} Parameters */
/** @typedef {{p: Parameters, cost: number, sd_px: number, normal: number[][]}} Minimum */

/** @param {Parameters} p @param {Problem["fixed"]} fixed @returns {Camera} */
function cameraOf(p, fixed) {
  return { centre: { x: p[0], y: p[1] }, tilt: [p[2], p[3]], ...fixed };
}

/** @param {Problem} problem @param {number[]} tilt @returns {Parameters} */
function start(problem, tilt) {
  const p = [problem.centre.x, problem.centre.y, tilt[0], tilt[1]];
  const at = wheelPlane(cameraOf(p, problem.fixed)).at;
  for (let k = 0; k < problem.dots; k++) p.push(median(problem.places.flatMap((d) => (d[k] ? [Math.hypot(...at(d[k]))] : []))) || 1);
  if (problem.dots === 2) {
    // The mean direction, not the median: the angle may lie at the seam of the circle.
    let [s, c] = [0, 0];
    for (const [a, b] of problem.places)
      if (a && b) {
        const g = angle(at(b)) - angle(at(a));
        s += Math.sin(g);
        c += Math.cos(g);
      }
    p.push(Math.atan2(s, c));
  }
  return p;
}

/** Counter-clockwise from straight down. @param {[number, number]} v */
function angle(v) {
  return Math.atan2(v[0], v[1]);
}

/**
 * Residuals in pixels of all pictures, then those of what was known before, in standard deviations.
 * @param {Problem} problem
 * @param {Parameters} p
 * @returns {{data: number[], known: number[]}}
 */
function residuals(problem, p) {
  const at = wheelPlane(cameraOf(p, problem.fixed)).at;
  const data = [];
  for (const pair of problem.places) {
    const v = pair.map((q) => q && at(q));
    v.forEach((w, k) => w && data.push(Math.hypot(w[0], w[1]) - p[4 + k]));
    if (v[0] && v[1]) {
      // As arc at half the harmonic mean radius: the scatter of an angle between two places of one pixel each.
      const arm = 1 / Math.hypot(1 / p[4], 1 / p[5]);
      data.push(wrapPi(angle(v[1]) - angle(v[0]) - p[6]) * arm);
    }
  }
  const known = [(p[0] - problem.centre.x) / problem.centreSd_px, (p[1] - problem.centre.y) / problem.centreSd_px, p[2] / TILT_SD, p[3] / TILT_SD];
  return { data, known };
}

/**
 * Levenberg and Marquardt's least squares with Huber's weights; few unknowns, derivatives by differences.
 * @param {Problem} problem
 * @param {Parameters} begin
 * @param {boolean} [tiltHeld] leave the tilt as it is
 * @returns {Minimum}
 */
function minimise(problem, begin, tiltHeld = false) {
  let p = begin;
  let r = residuals(problem, p);
  let sd = scatter(r.data);
  let cost = costOf(r, sd);
  let damping = 1e-3;
  /** @type {number[][]} */
  let normal = [];
  for (let pass = 0; pass < 60; pass++) {
    const m = p.length;
    const columns = p.map((v, k) => {
      const h = k < 2 || k === 4 || k === 5 ? 1e-3 : 1e-6;
      const q = [...p];
      q[k] = v + h;
      const s = residuals(problem, q);
      return { data: s.data.map((a, i) => (a - r.data[i]) / h), known: s.known.map((a, i) => (a - r.known[i]) / h) };
    });
    normal = p.map(() => new Array(m).fill(0));
    const pull = new Array(m).fill(0);
    const weight = r.data.map((a) => Math.min(1, (1.5 * sd) / Math.max(Math.abs(a), 1e-12)) / (sd * sd));
    for (let a = 0; a < m; a++) {
      for (let b = a; b < m; b++) {
        let s = 0;
        for (let i = 0; i < weight.length; i++) s += weight[i] * columns[a].data[i] * columns[b].data[i];
        for (let i = 0; i < r.known.length; i++) s += columns[a].known[i] * columns[b].known[i];
        normal[a][b] = normal[b][a] = s;
      }
      for (let i = 0; i < weight.length; i++) pull[a] -= weight[i] * columns[a].data[i] * r.data[i];
      for (let i = 0; i < r.known.length; i++) pull[a] -= columns[a].known[i] * r.known[i];
    }
    if (tiltHeld) for (const k of [2, 3]) for (let b = 0; b < m; b++) normal[k][b] = normal[b][k] = k === b ? 1 : (pull[k] = 0);
    let better = false;
    for (let tries = 0; tries < 12 && !better; tries++) {
      const step = solve(normal.map((row, a) => row.map((v, b) => (a === b ? v * (1 + damping) + 1e-12 : v))), pull);
      const q = step && p.map((v, k) => v + step[k]);
      // A camera more than 60° aside sees no wheel face.
      if (q && q.every(Number.isFinite) && Math.abs(q[2]) < 1.05 && Math.abs(q[3]) < 1.05) {
        const s = residuals(problem, q);
        const c = costOf(s, sd);
        if (c < cost) {
          better = cost - c > 1e-7 * cost;
          [p, r, cost] = [q, s, c];
          damping = Math.max(damping / 10, 1e-9);
          break;
        }
      }
      damping *= 10;
    }
    if (!better) {
      const now = scatter(r.data);
      if (Math.abs(now - sd) < 0.02 * sd) break;
      sd = now;
      cost = costOf(r, sd);
      damping = 1e-3;
    }
  }
  // Compared between starts at one common scale, the least that a place can scatter.
  return { p, cost: costOf(r, LEAST_SD_PX * 2), sd_px: sd, normal };
}

/** @param {{data: number[], known: number[]}} r @param {number} sd */
function costOf(r, sd) {
  let c = 0;
  for (const a of r.data) {
    const z = Math.abs(a) / sd;
    c += z < 1.5 ? z * z : 3 * z - 2.25;
  }
  for (const a of r.known) c += a * a;
  return c;
}

/** @param {number[]} data */
function scatter(data) {
  // Half of normal deviates lie within 0.6745 sd.
  return Math.max(LEAST_SD_PX, median(data.map(Math.abs)) / 0.6745);
}

/** @param {number[]} v */
function median(v) {
  const s = [...v].sort((a, b) => a - b);
  return s.length ? s[s.length >> 1] : NaN;
}

/**
 * Gauss with pivots; null when singular.
 * @param {number[][]} a is overwritten
 * @param {number[]} rhs
 * @returns {number[]|null}
 */
export function solve(a, rhs) {
  const n = rhs.length;
  const x = [...rhs];
  for (let k = 0; k < n; k++) {
    let top = k;
    for (let i = k + 1; i < n; i++) if (Math.abs(a[i][k]) > Math.abs(a[top][k])) top = i;
    if (!(Math.abs(a[top][k]) > 0)) return null;
    [a[k], a[top], x[k], x[top]] = [a[top], a[k], x[top], x[k]];
    for (let i = k + 1; i < n; i++) {
      const f = a[i][k] / a[k][k];
      for (let j = k; j < n; j++) a[i][j] -= f * a[k][j];
      x[i] -= f * x[k];
    }
  }
  for (let k = n - 1; k >= 0; k--) {
    for (let j = k + 1; j < n; j++) x[k] -= a[k][j] * x[j];
    x[k] /= a[k][k];
  }
  return x;
}

/**
 * Room angle of dot A from what is seen of both, rad; NaN when neither is.
 * @param {(Point|null)[]} pair places in the first picture
 * @param {Parameters} p
 * @param {(q: Point) => [number, number]} at
 */
function angleOf(pair, p, at) {
  const [a, b] = pair.map((q) => q && at(q));
  if (a && b) {
    // The line between them: an error of the centre shifts both alike and drops out.
    const bend = Math.atan2(-p[5] * Math.sin(p[6]), p[4] - p[5] * Math.cos(p[6]));
    return wrapPi(angle([a[0] - b[0], a[1] - b[1]]) - bend);
  }
  if (a) return angle(a);
  return b ? wrapPi(angle(b) - p[6]) : NaN;
}

/**
 * Room angle of dot A in a picture, and its sd from the scatter of places; null when no dot was seen or it lies off its circle.
 * @param {Solved} s
 * @param {Step} step
 * @returns {{rad: number, sd_rad: number, dots: "A"|"B"|"AB"}|null}
 */
export function roomAngleOfA(s, step) {
  const { at } = wheelPlane(s.camera);
  const off = Math.max(5 * s.sd_px, 1.5);
  const pair = step.dots.map((d, k) => {
    const q = d.ok ? toFirst(step.toFirst, d) : null;
    return q && Math.abs(Math.hypot(...at(q)) - s.radii[k]) <= off ? q : null;
  });
  const p = [s.camera.centre.x, s.camera.centre.y, ...s.camera.tilt, ...s.radii, s.between];
  const rad = angleOf(pair, p, at);
  if (!Number.isFinite(rad)) return null;
  const [a, b] = pair.map((q) => q && at(q));
  if (a && b) return { rad, sd_rad: (s.sd_px * Math.SQRT2) / Math.hypot(a[0] - b[0], a[1] - b[1]), dots: "AB" };
  return { rad, sd_rad: s.sd_px / s.radii[a ? 0 : 1], dots: a ? "A" : "B" };
}

/**
 * What all angles share: the fit's own uncertainty of centre, tilt and offset as it moves their mean and as it bends them round
 * the turn; with the level's and the focal length's. An ellipse is the same from left and from right but for perspective: where
 * another tilt fits about as well, how far its angles lie off is part of the uncertainty.
 * @param {Problem} problem
 * @param {Minimum} best
 * @param {Minimum[]} others
 * @returns {{common_sd_deg: number, bend_sd_deg: number}}
 */
function sharedErrors(problem, best, others) {
  const { p, normal } = best;
  const { back } = wheelPlane(cameraOf(p, problem.fixed));
  const around = Array.from({ length: 24 }, (_, i) => {
    const a = (i * Math.PI) / 12;
    const of = (/** @type {number} */ r, /** @type {number} */ g) => back([r * Math.sin(g), r * Math.cos(g)]);
    return problem.dots === 2 ? [of(p[4], a), of(p[5], a + p[6])] : [of(p[4], a)];
  });
  /** How each angle changes with each parameter. */
  const slopes = (/** @type {(Point|null)[][]} */ pairs) => {
    const at0 = wheelPlane(cameraOf(p, problem.fixed)).at;
    const columns = p.map((v, k) => {
      const h = k < 2 || k === 4 || k === 5 ? 1e-2 : 1e-5;
      const q = [...p];
      q[k] = v + h;
      const { at } = wheelPlane(cameraOf(q, problem.fixed));
      return pairs.map((pair) => wrapPi(angleOf(pair, q, at) - angleOf(pair, p, at0)) / h);
    });
    return pairs.map((_, i) => columns.map((c) => c[i])).filter((row) => row.every(Number.isFinite));
  };
  // The data's part of the normal matrix is cut to what so many independent pictures would give.
  const share = Math.min(1, INDEPENDENT / problem.places.length);
  const cut = normal.map((row, a) =>
    row.map((v, b) => {
      const prior = a !== b || a > 3 ? 0 : a < 2 ? 1 / problem.centreSd_px ** 2 : 1 / TILT_SD ** 2;
      return (v - prior) * share + prior + (a === b ? 1e-12 : 0);
    }),
  );
  const covariance = p.map((_, k) => solve(cut.map((r) => [...r]), p.map((__, j) => (j === k ? 1 : 0))) ?? p.map(() => 1));
  const variance = (/** @type {number[]} */ g) => Math.max(0, g.reduce((s, u, a) => s + u * g.reduce((t, w, b) => t + w * covariance[a][b], 0), 0));
  const mean = (/** @type {number[][]} */ rows) => p.map((_, k) => rows.reduce((s, r) => s + r[k], 0) / Math.max(1, rows.length));
  const degrees = 180 / Math.PI;
  const rows = slopes(around);
  const middle = mean(rows);
  let common2 = variance(mean(slopes(problem.places)));
  let bend2 = rows.reduce((s, r) => s + variance(r.map((v, k) => v - middle[k])), 0) / Math.max(1, rows.length);
  for (const other of others) {
    // With one dot the two are told apart by perspective alone, which the unknown focal length blurs.
    const weight = Math.exp((-share * (other.cost - best.cost)) / (problem.dots === 1 ? ONE_DOT_TEMPER : 2));
    if (weight < 1e-3) continue;
    const off = (/** @type {(Point|null)[][]} */ pairs) => {
      const [here, there] = [p, other.p].map((q) => wheelPlane(cameraOf(q, problem.fixed)).at);
      return pairs.map((pair) => wrapPi(angleOf(pair, other.p, there) - angleOf(pair, p, here))).filter(Number.isFinite);
    };
    const seen = off(problem.places);
    const shift = seen.reduce((s, v) => s + v, 0) / Math.max(1, seen.length);
    const round = off(around);
    const level = round.reduce((s, v) => s + v, 0) / round.length;
    common2 += (weight / (1 + weight)) * shift * shift;
    bend2 += ((weight / (1 + weight)) * round.reduce((s, v) => s + (v - level) ** 2, 0)) / round.length;
  }
  const [common, bend] = [Math.sqrt(common2) * degrees, Math.sqrt(bend2) * degrees];
  const level = problem.fixed.level;
  const levelSd = level ? ((MARK_SD_PX * Math.SQRT2) / Math.hypot(level[1].x - level[0].x, level[1].y - level[0].y)) * degrees : UPRIGHT_SD_DEG;
  return { common_sd_deg: Math.hypot(common, levelSd, FOCAL_SD_DEG), bend_sd_deg: Math.hypot(bend, LENS_SD_DEG) };
}
