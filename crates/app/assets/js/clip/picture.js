// One picture of a clip as the tracker reads it: windows of normalised chroma and of brightness, whatever way the pixels came.
//
// Normalised chroma: ((B − Y), (R − Y)) / (Y + 20), which hardly changes when the light flickers or a shadow passes.

/** Keeps dark pixels' chroma from being all noise, grey levels of 255. */
const DARK = 20;

/**
 * A window of samples, row by row.
 * @typedef {object} Window
 * @property {number} x0 left edge, pixels of the picture
 * @property {number} y0 top edge
 * @property {number} w samples a row
 * @property {number} h rows
 * @property {number} step pixels from sample to sample
 * @property {Float32Array} u (B − Y)/(Y + 20)
 * @property {Float32Array} v (R − Y)/(Y + 20)
 */

/**
 * What the tracker needs of a picture.
 * @typedef {object} Picture
 * @property {number} width pixels, upright
 * @property {number} height
 * @property {(x0: number, y0: number, x1: number, y1: number, step: number) => Window} chroma a window cut to the picture; it is reused by the next call
 * @property {(x0: number, y0: number, w: number, h: number, step: number, out: Float32Array) => boolean} luma brightness 0 to 255 into `out`; false if the window leaves the picture
 * @property {() => ImageData} image for showing; in the browser only
 */

/**
 * @param {Window} win
 * @param {Picture} p
 */
function fit(win, p, /** @type {number[]} */ [x0, y0, x1, y1, step]) {
  const left = Math.max(0, Math.floor(x0));
  const top = Math.max(0, Math.floor(y0));
  win.x0 = left;
  win.y0 = top;
  win.step = step;
  win.w = Math.max(0, Math.floor((Math.min(p.width - 1, Math.ceil(x1)) - left) / step) + 1);
  win.h = Math.max(0, Math.floor((Math.min(p.height - 1, Math.ceil(y1)) - top) / step) + 1);
  const n = win.w * win.h;
  if (win.u.length < n) {
    win.u = new Float32Array(n);
    win.v = new Float32Array(n);
  }
  return win;
}

/** @returns {Window} */
function emptyWindow() {
  return { x0: 0, y0: 0, w: 0, h: 0, step: 1, u: new Float32Array(0), v: new Float32Array(0) };
}

/** Pixels as red, green, blue, alpha: from a canvas, or drawn by a test. Implements {@link Picture}. */
export class RgbaPicture {
  #win = emptyWindow();
  /**
   * @param {Uint8Array|Uint8ClampedArray} data
   * @param {number} width
   * @param {number} height
   */
  constructor(data, width, height) {
    this.data = data;
    this.width = width;
    this.height = height;
  }

  /** @returns {Window} */
  chroma(/** @type {number} */ x0, /** @type {number} */ y0, /** @type {number} */ x1, /** @type {number} */ y1, step = 1) {
    const win = fit(this.#win, this, [x0, y0, x1, y1, step]);
    const d = this.data;
    for (let j = 0, k = 0; j < win.h; j++) {
      let p = 4 * ((win.y0 + j * step) * this.width + win.x0);
      for (let i = 0; i < win.w; i++, k++, p += 4 * step) {
        const y = 0.299 * d[p] + 0.587 * d[p + 1] + 0.114 * d[p + 2];
        win.u[k] = (d[p + 2] - y) / (y + DARK);
        win.v[k] = (d[p] - y) / (y + DARK);
      }
    }
    return win;
  }

  /** @returns {boolean} */
  luma(/** @type {number} */ x0, /** @type {number} */ y0, /** @type {number} */ w, /** @type {number} */ h, /** @type {number} */ step, /** @type {Float32Array} */ out) {
    if (x0 < 0 || y0 < 0 || x0 + (w - 1) * step >= this.width || y0 + (h - 1) * step >= this.height) return false;
    const d = this.data;
    for (let j = 0, k = 0; j < h; j++) {
      let p = 4 * ((y0 + j * step) * this.width + x0);
      for (let i = 0; i < w; i++, k++, p += 4 * step) out[k] = 0.299 * d[p] + 0.587 * d[p + 1] + 0.114 * d[p + 2];
    }
    return true;
  }

  image() {
    return new ImageData(new Uint8ClampedArray(this.data), this.width, this.height);
  }
}

/**
 * Planes as a decoder gives them.
 * @typedef {object} Planes
 * @property {Uint8Array} data
 * @property {number} width pixels as stored
 * @property {number} height
 * @property {{offset: number, stride: number}[]} layout of Y, then U and V (I420) or UV together (NV12)
 * @property {"I420"|"NV12"} format
 */

/** Brightness and chroma planes straight from a decoder: no conversion of the whole picture. Implements {@link Picture}. */
export class PlanePicture {
  #win = emptyWindow();
  /**
   * @param {Planes} planes
   * @param {0|90|180|270} turn_deg clockwise turn that brings it upright
   * @param {number} shrink whole number: only each so many-th pixel is looked at
   */
  constructor(planes, turn_deg, shrink = 1) {
    this.planes = planes;
    const [w, h] = [Math.floor(planes.width / shrink), Math.floor(planes.height / shrink)];
    [this.width, this.height] = turn_deg % 180 ? [h, w] : [w, h];
    const s = shrink;
    const half = shrink >> 1;
    // Stored place (sx, sy) of upright (x, y): sx = o + xx·x + xy·y, and so for sy.
    this.map = {
      0: { ox: half, xx: s, xy: 0, oy: half, yx: 0, yy: s },
      90: { ox: half, xx: 0, xy: s, oy: (h - 1) * s + half, yx: -s, yy: 0 },
      180: { ox: (w - 1) * s + half, xx: -s, xy: 0, oy: (h - 1) * s + half, yx: 0, yy: -s },
      270: { ox: (w - 1) * s + half, xx: 0, xy: -s, oy: half, yx: s, yy: 0 },
    }[turn_deg];
    const [y, u, v] = planes.layout;
    this.y = y;
    this.u = u;
    this.v = planes.format === "NV12" ? { offset: u.offset + 1, stride: u.stride } : v;
    this.pitch = planes.format === "NV12" ? 2 : 1;
  }

  /** @returns {Window} */
  chroma(/** @type {number} */ x0, /** @type {number} */ y0, /** @type {number} */ x1, /** @type {number} */ y1, step = 1) {
    const win = fit(this.#win, this, [x0, y0, x1, y1, step]);
    const { ox, xx, xy, oy, yx, yy } = this.map;
    const d = this.planes.data;
    const { y: py, u: pu, v: pv, pitch } = this;
    for (let j = 0, k = 0; j < win.h; j++) {
      let sx = ox + xx * win.x0 + xy * (win.y0 + j * step);
      let sy = oy + yx * win.x0 + yy * (win.y0 + j * step);
      for (let i = 0; i < win.w; i++, k++, sx += xx * step, sy += yx * step) {
        // Video levels: brightness 16 to 235, chroma 128 ± 112 (ITU-R BT.601).
        const y = Math.max(0, 1.164 * (d[py.offset + sy * py.stride + sx] - 16)) + DARK;
        const c = (sx >> 1) * pitch;
        const row = sy >> 1;
        win.u[k] = (2.018 * (d[pu.offset + row * pu.stride + c] - 128)) / y;
        win.v[k] = (1.596 * (d[pv.offset + row * pv.stride + c] - 128)) / y;
      }
    }
    return win;
  }

  /** @returns {boolean} */
  luma(/** @type {number} */ x0, /** @type {number} */ y0, /** @type {number} */ w, /** @type {number} */ h, /** @type {number} */ step, /** @type {Float32Array} */ out) {
    if (x0 < 0 || y0 < 0 || x0 + (w - 1) * step >= this.width || y0 + (h - 1) * step >= this.height) return false;
    const { ox, xx, xy, oy, yx, yy } = this.map;
    const d = this.planes.data;
    const { offset, stride } = this.y;
    const jump = step * (yx * stride + xx);
    for (let j = 0, k = 0; j < h; j++) {
      const y = y0 + j * step;
      let at = offset + (oy + yx * x0 + yy * y) * stride + ox + xx * x0 + xy * y;
      for (let i = 0; i < w; i++, k++, at += jump) out[k] = d[at];
    }
    return true;
  }

  image() {
    const out = new ImageData(this.width, this.height);
    const { ox, xx, xy, oy, yx, yy } = this.map;
    const d = this.planes.data;
    const { y: py, u: pu, v: pv, pitch } = this;
    for (let y = 0, k = 0; y < this.height; y++)
      for (let x = 0; x < this.width; x++, k += 4) {
        const [sx, sy] = [ox + xx * x + xy * y, oy + yx * x + yy * y];
        const c = (sx >> 1) * pitch;
        const l = 1.164 * (d[py.offset + sy * py.stride + sx] - 16);
        const u = d[pu.offset + (sy >> 1) * pu.stride + c] - 128;
        const v = d[pv.offset + (sy >> 1) * pv.stride + c] - 128;
        out.data[k] = l + 1.596 * v;
        out.data[k + 1] = l - 0.392 * u - 0.813 * v;
        out.data[k + 2] = l + 2.018 * u;
        out.data[k + 3] = 255;
      }
    return out;
  }
}
