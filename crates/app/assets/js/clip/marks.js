// Fixed marks on the stand: a patch of the first picture found again in each later one, and the similarity (shift, turn,
// scale) that maps a later picture onto the first. That takes out the shake of a hand-held phone.

/** @typedef {import("./picture.js").Picture} Picture */

/** Side of the patch, samples. */
const SIDE = 29;
/** Below this correlation the mark was not seen (1: the same up to brightness and contrast). */
const LEAST_LIKENESS = 0.6;

/**
 * A mark as learned from one picture.
 * @typedef {object} Mark
 * @property {number} x where it was, pixels
 * @property {number} y
 * @property {number} step pixels from sample to sample
 * @property {Float32Array} patch brightness less its mean, of unit length
 */

/**
 * @typedef {object} Seen
 * @property {number} x
 * @property {number} y
 * @property {number} likeness correlation with the patch, −1 to 1
 * @property {boolean} ok
 */

/**
 * Similarity z ↦ a·z + b of the plane, complex numbers as pairs.
 * @typedef {{ar: number, ai: number, bx: number, by: number}} Similarity
 */

/** @type {Similarity} */
export const UNMOVED = { ar: 1, ai: 0, bx: 0, by: 0 };

/**
 * Learn a mark.
 * @param {Picture} p
 * @param {{x: number, y: number}} at
 * @returns {Mark|null} null when the patch leaves the picture or shows nothing to hold on to
 */
export function learnMark(p, at) {
  const step = Math.max(1, Math.round(Math.max(p.width, p.height) / 1280));
  const patch = new Float32Array(SIDE * SIDE);
  const half = ((SIDE - 1) / 2) * step;
  const [x, y] = [Math.round(at.x), Math.round(at.y)];
  if (!p.luma(x - half, y - half, SIDE, SIDE, step, patch)) return null;
  const length = normalise(patch);
  // Six grey levels of contrast stand out of the noise of a compressed clip.
  return length < 6 * SIDE ? null : { x, y, step, patch };
}

/** @param {Float32Array} v @returns {number} its length before */
function normalise(v) {
  let mean = 0;
  for (const a of v) mean += a;
  mean /= v.length;
  let square = 0;
  for (let i = 0; i < v.length; i++) {
    v[i] -= mean;
    square += v[i] * v[i];
  }
  const length = Math.sqrt(square);
  for (let i = 0; i < v.length; i++) v[i] /= length || 1;
  return length;
}

let field = new Float32Array(0);

/**
 * Find a mark near a place, to a part of a pixel.
 * @param {Picture} p
 * @param {Mark} mark
 * @param {{x: number, y: number}} near
 * @param {number} reach how far from it to search, pixels
 * @returns {Seen}
 */
export function findMark(p, mark, near, reach) {
  const { step, patch } = mark;
  const half = ((SIDE - 1) / 2) * step;
  const [nx, ny] = [Math.round(near.x), Math.round(near.y)];
  const r = Math.max(2, Math.round(reach / step));
  const side = SIDE + 2 * r;
  if (field.length < side * side) field = new Float32Array(side * side);
  if (!p.luma(nx - half - r * step, ny - half - r * step, side, side, step, field)) return { x: near.x, y: near.y, likeness: 0, ok: false };
  const known = new Map();
  const at = (/** @type {number} */ i, /** @type {number} */ j) => {
    const key = j * 4096 + i;
    let c = known.get(key);
    if (c === undefined) known.set(key, (c = correlation(patch, side, i, j)));
    return c;
  };
  // Coarse over the whole reach, then down to the top; the correlation of such a patch is broad enough for threes.
  let [bi, bj, best] = [r, r, at(r, r)];
  const coarse = r > 3 ? 3 : 1;
  for (let j = r % coarse; j <= 2 * r; j += coarse)
    for (let i = r % coarse; i <= 2 * r; i += coarse) {
      const c = at(i, j);
      if (c > best) [bi, bj, best] = [i, j, c];
    }
  for (let moved = true; moved; ) {
    moved = false;
    for (let j = Math.max(0, bj - 1); j <= Math.min(2 * r, bj + 1); j++)
      for (let i = Math.max(0, bi - 1); i <= Math.min(2 * r, bi + 1); i++) {
        const c = at(i, j);
        if (c > best) [bi, bj, best, moved] = [i, j, c, true];
      }
  }
  const inside = bi > 0 && bj > 0 && bi < 2 * r && bj < 2 * r;
  const [dx, dy] = inside ? [top(at(bi - 1, bj), best, at(bi + 1, bj)), top(at(bi, bj - 1), best, at(bi, bj + 1))] : [0, 0];
  return { x: nx + (bi - r + dx) * step, y: ny + (bj - r + dy) * step, likeness: best, ok: inside && best >= LEAST_LIKENESS };
}

/** Top of the parabola through three values, in steps from the middle one. */
function top(/** @type {number} */ left, /** @type {number} */ middle, /** @type {number} */ right) {
  const bend = left - 2 * middle + right;
  return bend < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (left - right)) / bend)) : 0;
}

/**
 * Correlation of the patch with the field at sample (i, j).
 * @param {Float32Array} patch
 * @param {number} side
 * @param {number} i
 * @param {number} j
 */
function correlation(patch, side, i, j) {
  let [sum, square, cross] = [0, 0, 0];
  for (let y = 0, k = 0; y < SIDE; y++) {
    let q = (j + y) * side + i;
    for (let x = 0; x < SIDE; x++, k++, q++) {
      const a = field[q];
      sum += a;
      square += a * a;
      cross += a * patch[k];
    }
  }
  const spread = square - (sum * sum) / (SIDE * SIDE);
  return spread > 0 ? cross / Math.sqrt(spread) : 0;
}

/**
 * The similarity that maps two places of now onto the two places they had first.
 * @param {[{x: number, y: number}, {x: number, y: number}]} now
 * @param {[{x: number, y: number}, {x: number, y: number}]} first
 * @returns {Similarity}
 */
export function similarity([p, q], [P, Q]) {
  const [dx, dy, Dx, Dy] = [q.x - p.x, q.y - p.y, Q.x - P.x, Q.y - P.y];
  const d2 = dx * dx + dy * dy;
  const [ar, ai] = [(Dx * dx + Dy * dy) / d2, (Dy * dx - Dx * dy) / d2];
  return { ar, ai, bx: P.x - (ar * p.x - ai * p.y), by: P.y - (ai * p.x + ar * p.y) };
}

/**
 * Where a place of this picture lay in the first one.
 * @param {Similarity} s
 * @param {{x: number, y: number}} z
 */
export function toFirst(s, z) {
  return { x: s.ar * z.x - s.ai * z.y + s.bx, y: s.ai * z.x + s.ar * z.y + s.by };
}

/**
 * Where a place of the first picture lies in this one.
 * @param {Similarity} s
 * @param {{x: number, y: number}} Z
 */
export function fromFirst(s, Z) {
  const [x, y] = [Z.x - s.bx, Z.y - s.by];
  const n = s.ar * s.ar + s.ai * s.ai;
  return { x: (s.ar * x + s.ai * y) / n, y: (s.ar * y - s.ai * x) / n };
}

/**
 * Two patches that hold well and lie off the wheel, far from each other: to notice that the phone moved where nobody gave
 * marks. Empty when the background is too plain.
 * @param {Picture} p
 * @param {{x: number, y: number}} centre of the wheel
 * @param {number} clear radius about it that is kept free, pixels
 * @returns {Mark[]}
 */
export function steadyPatches(p, centre, clear) {
  const pitch = Math.max(p.width, p.height) / 24;
  const step = Math.max(1, Math.round(Math.max(p.width, p.height) / 1280));
  const patch = new Float32Array(SIDE * SIDE);
  const half = ((SIDE - 1) / 2) * step;
  const found = [];
  for (let y = pitch; y < p.height - pitch; y += pitch)
    for (let x = pitch; x < p.width - pitch; x += pitch) {
      if (Math.hypot(x - centre.x, y - centre.y) < clear || !p.luma(Math.round(x) - half, Math.round(y) - half, SIDE, SIDE, step, patch)) continue;
      // The smaller eigenvalue of the summed gradient products: large only where there is structure both ways.
      let [xx, yy, xy] = [0, 0, 0];
      for (let j = 1; j < SIDE - 1; j++)
        for (let i = 1, k = j * SIDE + 1; i < SIDE - 1; i++, k++) {
          const [gx, gy] = [patch[k + 1] - patch[k - 1], patch[k + SIDE] - patch[k - SIDE]];
          xx += gx * gx;
          yy += gy * gy;
          xy += gx * gy;
        }
      found.push({ x, y, hold: (xx + yy) / 2 - Math.hypot((xx - yy) / 2, xy) });
    }
  found.sort((a, b) => b.hold - a.hold);
  const first = found[0];
  const second = first && found.find((f) => f.hold > 0.2 * first.hold && Math.hypot(f.x - first.x, f.y - first.y) > 6 * pitch);
  if (!second) return [];
  const marks = [first, second].map((f) => learnMark(p, f));
  return marks.every((m) => m !== null) ? /** @type {Mark[]} */ (marks) : [];
}
