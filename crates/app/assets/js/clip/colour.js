// Coloured dots by their normalised chroma: learn a dot's colour from a tap, then find its centre to a part of a pixel.

/** @typedef {import("./picture.js").Picture} Picture */
/** @typedef {import("./picture.js").Window} Window */

/**
 * A dot's colour against what lies round it.
 * @typedef {object} DotColour
 * @property {number} u background
 * @property {number} v
 * @property {number} du from background to dot
 * @property {number} dv
 */

/**
 * A dot as found.
 * @typedef {object} Blob
 * @property {number} x centre, pixels
 * @property {number} y
 * @property {number} area pixels, by weight: a blurred edge counts in part
 * @property {boolean} cut touches the window's edge
 * @property {number} peak how fully its middle has the dot's colour, 0 to about 1
 */

/** Least distance of dot and background in normalised chroma: below it noise and compression swamp the colour. */
export const LEAST_CONTRAST = 0.12;
/** From this share of the way to the dot's colour a pixel may belong to it. */
const BELONGS = 0.35;
/** A pixel's colour may be this share of the contrast off the line from background to dot. */
const ASIDE = 0.45;

/**
 * How far a pixel is on the way from background to dot; 0 when its colour is another.
 * @param {DotColour} c
 * @param {number} u
 * @param {number} v
 */
function likeness(c, u, v) {
  const [pu, pv] = [u - c.u, v - c.v];
  const d2 = c.du * c.du + c.dv * c.dv;
  const along = (pu * c.du + pv * c.dv) / d2;
  const aside = Math.abs(pu * c.dv - pv * c.du) / d2;
  return aside > ASIDE * Math.max(1, along) ? 0 : along;
}

/** @param {number[]} v */
function median(v) {
  const s = v.sort((a, b) => a - b);
  return s.length ? s[s.length >> 1] : NaN;
}

/**
 * Median chroma between two radii about a place.
 * @param {Picture} p
 * @param {{x: number, y: number}} at
 * @param {number} inner
 * @param {number} outer
 */
function ring(p, at, inner, outer) {
  const win = p.chroma(at.x - outer, at.y - outer, at.x + outer, at.y + outer, Math.max(1, Math.floor(outer / 12)));
  const [us, vs] = [[], []];
  for (let j = 0, k = 0; j < win.h; j++)
    for (let i = 0; i < win.w; i++, k++) {
      const r = Math.hypot(win.x0 + i * win.step - at.x, win.y0 + j * win.step - at.y);
      if (r >= inner && r <= outer) {
        /** @type {number[]} */ (us).push(win.u[k]);
        /** @type {number[]} */ (vs).push(win.v[k]);
      }
    }
  return { u: median(us), v: median(vs) };
}

/**
 * Learn a dot from a tap on it: its colour, its centre, its area.
 * @param {Picture} p
 * @param {{x: number, y: number}} tap
 * @param {number} [size] about the dot's radius, pixels, if it is known
 * @returns {{colour: DotColour, blob: Blob}|null} null when there is no dot of a colour of its own
 */
export function learnDot(p, tap, size) {
  const small = Math.max(2, Math.min(p.width, p.height) / 250);
  const core = ring(p, tap, 0, small);
  if (!Number.isFinite(core.u)) return null;
  // The background is looked for ever farther out, until the ring no longer holds the dot's own colour.
  for (const r of size ? [size] : [3, 5, 8, 12, 18, 27].map((k) => k * small)) {
    const back = ring(p, tap, r * 1.4, r * 2.2);
    const colour = { u: back.u, v: back.v, du: core.u - back.u, dv: core.v - back.v };
    if (!(Math.hypot(colour.du, colour.dv) >= LEAST_CONTRAST)) continue;
    const blob = findBlob(p, colour, { x0: tap.x - 2.2 * r, y0: tap.y - 2.2 * r, x1: tap.x + 2.2 * r, y1: tap.y + 2.2 * r }, tap);
    if (!blob || blob.cut || blob.area < 12 || Math.hypot(blob.x - tap.x, blob.y - tap.y) > 1.5 * r) continue;
    // Once more about the centre found, with the dot's own size: the colour of its middle, the background close by.
    const own = Math.sqrt(blob.area / Math.PI);
    const middle = ring(p, blob, 0, Math.max(1.5, 0.5 * own));
    const near = ring(p, blob, 1.5 * own, 2.3 * own + 1);
    const sharp = { u: near.u, v: near.v, du: middle.u - near.u, dv: middle.v - near.v };
    if (!(Math.hypot(sharp.du, sharp.dv) >= LEAST_CONTRAST)) continue;
    const reach = 2.2 * own + 2;
    const again = findBlob(p, sharp, { x0: blob.x - reach, y0: blob.y - reach, x1: blob.x + reach, y1: blob.y + reach }, blob);
    if (again && !again.cut && again.area >= 12) return { colour: sharp, blob: again };
  }
  return null;
}

/** Marks of the flood fill, reused. */
let seen = new Uint8Array(0);
let stack = new Int32Array(0);
let like = new Float32Array(0);

/**
 * The blob of a colour in a window: the one nearest to a place among those large enough to be it.
 * @param {Picture} p
 * @param {DotColour} colour
 * @param {{x0: number, y0: number, x1: number, y1: number, step?: number}} where
 * @param {{x: number, y: number}} near
 * @param {number} [leastArea] pixels
 * @returns {Blob|null}
 */
export function findBlob(p, colour, where, near, leastArea = 6) {
  const win = p.chroma(where.x0, where.y0, where.x1, where.y1, where.step ?? 1);
  const { w, h, step } = win;
  const n = w * h;
  if (n === 0) return null;
  if (seen.length < n) {
    seen = new Uint8Array(n);
    stack = new Int32Array(n);
    like = new Float32Array(n);
  }
  for (let k = 0; k < n; k++) {
    like[k] = likeness(colour, win.u[k], win.v[k]);
    seen[k] = 0;
  }
  /** @type {Blob|null} */
  let best = null;
  let bestFar = Infinity;
  for (let k = 0; k < n; k++) {
    if (seen[k] || like[k] < 0.6) continue;
    const blob = flood(win, k);
    const far = Math.hypot(blob.x - near.x, blob.y - near.y);
    if (blob.area >= leastArea && far < bestFar) [best, bestFar] = [blob, far];
  }
  return best && step === 1 ? finer(win, best) : best;
}

/**
 * The connected blob round sample `k`.
 * @param {Window} win
 * @param {number} k
 * @returns {Blob}
 */
function flood(win, k) {
  const { w, h, step } = win;
  let [top, sum, sx, sy, peak, cut] = [0, 0, 0, 0, 0, false];
  stack[top++] = k;
  seen[k] = 1;
  while (top > 0) {
    const q = stack[--top];
    const [i, j] = [q % w, (q / w) | 0];
    // Full weight from 0.65 of the way on: the middle of a dot is noisy, only its edge should count in part.
    const weight = Math.min(1, (like[q] - 0.2) / 0.45);
    sum += weight;
    sx += weight * i;
    sy += weight * j;
    peak = Math.max(peak, like[q]);
    if (i === 0 || j === 0 || i === w - 1 || j === h - 1) cut = true;
    const around = [i > 0 ? q - 1 : -1, i < w - 1 ? q + 1 : -1, j > 0 ? q - w : -1, j < h - 1 ? q + w : -1];
    for (const m of around)
      if (m >= 0 && !seen[m] && like[m] > BELONGS) {
        seen[m] = 1;
        stack[top++] = m;
      }
  }
  return { x: win.x0 + (sx / sum) * step, y: win.y0 + (sy / sum) * step, area: sum * step * step, cut, peak };
}

/**
 * Centre and area with the soft edge counted too: all samples within the blob's own reach, by weight.
 * @param {Window} win
 * @param {Blob} blob
 * @returns {Blob}
 */
function finer(win, blob) {
  const reach = 1.35 * Math.sqrt(blob.area / Math.PI) + 1.5;
  let [x, y, area] = [blob.x, blob.y, blob.area];
  for (let pass = 0; pass < 2; pass++) {
    let [sum, sx, sy] = [0, 0, 0];
    const [j0, j1] = [Math.max(0, Math.ceil(y - reach - win.y0)), Math.min(win.h - 1, Math.floor(y + reach - win.y0))];
    for (let j = j0; j <= j1; j++) {
      const half = Math.sqrt(Math.max(0, reach * reach - (win.y0 + j - y) ** 2));
      const [i0, i1] = [Math.max(0, Math.ceil(x - half - win.x0)), Math.min(win.w - 1, Math.floor(x + half - win.x0))];
      for (let i = i0; i <= i1; i++) {
        const l = like[j * win.w + i];
        if (l <= 0.15) continue;
        const weight = Math.min(1, (l - 0.15) / 0.5);
        sum += weight;
        sx += weight * (win.x0 + i);
        sy += weight * (win.y0 + j);
      }
    }
    if (sum === 0) return blob;
    [x, y, area] = [sx / sum, sy / sum, sum];
  }
  return { ...blob, x, y, area };
}

/**
 * A round spot of a strong colour, a candidate for a dot.
 * @typedef {object} Spot
 * @property {number} x
 * @property {number} y
 * @property {number} area pixels
 * @property {number} u mean chroma
 * @property {number} v
 * @property {number} strength distance from the picture's common chroma
 */

/**
 * All round spots of a strong colour in a picture.
 * @param {Picture} p
 * @returns {Spot[]}
 */
export function findSpots(p) {
  const step = Math.max(1, Math.round(Math.max(p.width, p.height) / 640));
  const win = p.chroma(0, 0, p.width - 1, p.height - 1, step);
  const { w, h } = win;
  const n = w * h;
  const every = Math.max(1, Math.floor(n / 4000));
  const [us, vs] = [[], []];
  for (let k = 0; k < n; k += every) {
    /** @type {number[]} */ (us).push(win.u[k]);
    /** @type {number[]} */ (vs).push(win.v[k]);
  }
  const [mu, mv] = [median(us), median(vs)];
  const side = Math.min(w, h);
  const [least, most] = [Math.PI * Math.max(1.5, side / 180) ** 2, Math.PI * (side / 14) ** 2];
  const state = new Uint8Array(n);
  /** @type {Spot[]} */
  const out = [];
  const todo = new Int32Array(n);
  for (let k = 0; k < n; k++) {
    const strength = Math.hypot(win.u[k] - mu, win.v[k] - mv);
    if (state[k] || strength < 2 * LEAST_CONTRAST) continue;
    // All connected samples of about this colour.
    const [ru, rv] = [win.u[k] - mu, win.v[k] - mv];
    let [top, m, sx, sy, sxx, syy, sxy, su, sv] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
    let cut = false;
    todo[top++] = k;
    state[k] = 1;
    while (top > 0) {
      const q = todo[--top];
      const [i, j] = [q % w, (q / w) | 0];
      m++;
      sx += i;
      sy += j;
      sxx += i * i;
      syy += j * j;
      sxy += i * j;
      su += win.u[q];
      sv += win.v[q];
      if (i === 0 || j === 0 || i === w - 1 || j === h - 1) cut = true;
      for (const z of [i > 0 ? q - 1 : -1, i < w - 1 ? q + 1 : -1, j > 0 ? q - w : -1, j < h - 1 ? q + w : -1]) {
        if (z < 0 || state[z]) continue;
        const [zu, zv] = [win.u[z] - mu, win.v[z] - mv];
        const length = Math.hypot(zu, zv);
        if (length < 1.4 * LEAST_CONTRAST || (zu * ru + zv * rv) / (length * strength) < 0.9) continue;
        state[z] = 1;
        todo[top++] = z;
      }
    }
    if (cut || m < least || m > most) continue;
    const [cx, cy] = [sx / m, sy / m];
    const [vxx, vyy, vxy] = [sxx / m - cx * cx, syy / m - cy * cy, sxy / m - cx * cy];
    // A disc of area m has both second moments m / 4π; a square's are 5 % larger, a long spot's product is far larger.
    const spread = (4 * Math.PI * Math.sqrt(Math.max(0, vxx * vyy - vxy * vxy))) / m;
    const lean = Math.sqrt((vxx - vyy) ** 2 + 4 * vxy * vxy) / (vxx + vyy);
    if (spread > 1.25 || lean > 0.3) continue;
    const [u, v] = [su / m, sv / m];
    out.push({ x: cx * step, y: cy * step, area: m * step * step, u, v, strength: Math.hypot(u - mu, v - mv) });
  }
  return out.sort((a, b) => b.strength - a.strength);
}
