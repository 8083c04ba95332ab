// A wheel with dots on a stand, drawn into arrays with known truth: projection by its own matrices, not by the modules under test.
import { RgbaPicture } from "../../assets/js/clip/picture.js";

/** Repeatable numbers in [0, 1): a linear congruential generator (Numerical Recipes, 3rd ed., §7.1). */
export function random(seed) {
  let s = seed >>> 0;
  return () => (s = (Math.imul(s, 1664525) + 1013904223) >>> 0) / 2 ** 32;
}

const rad = (deg) => (deg * Math.PI) / 180;

export class Scene {
  /**
   * @param {object} o width, height; yaw_deg, pitch_deg of the camera; focal_share of the longer side; dots [{r_mm, at_deg, size_mm, rgb}]; noise in grey levels
   */
  constructor(o = {}) {
    Object.assign(this, {
      width: 640, height: 360, yaw_deg: 0, pitch_deg: 0, distance_mm: 420, noise: 3, seed: 1, offset: [6, -4],
      dots: [{ r_mm: 68, at_deg: 0, size_mm: 12, rgb: [205, 45, 50] }, { r_mm: 66, at_deg: 178, size_mm: 12, rgb: [40, 85, 190] }],
    }, o);
    this.focal = (o.focal_share ?? 0.8) * Math.max(this.width, this.height);
    const [y, p] = [rad(this.yaw_deg), rad(this.pitch_deg)];
    // Yaw first, then pitch: the camera has no roll, so its sideways axis stays level.
    const turn = ([a, b, c]) => {
      const [x, z] = [a * Math.cos(y) + c * Math.sin(y), -a * Math.sin(y) + c * Math.cos(y)];
      return [x, b * Math.cos(p) - z * Math.sin(p), b * Math.sin(p) + z * Math.cos(p)];
    };
    [this.ex, this.ey, this.n] = [turn([1, 0, 0]), turn([0, 1, 0]), turn([0, 0, 1])];
    this.C = [this.offset[0], this.offset[1], this.distance_mm];
    this.centre = this.project([0, 0]);
    this.rand = random(this.seed);
    this.level_mm = [[-150, 30], [150, 30]];
  }

  /** A place on the wheel's plane (right, down in mm) in the picture. */
  project([r, d]) {
    const P = [0, 1, 2].map((k) => this.C[k] + r * this.ex[k] + d * this.ey[k]);
    return { x: (P[0] / P[2]) * this.focal + (this.width - 1) / 2, y: (P[1] / P[2]) * this.focal + (this.height - 1) / 2 };
  }

  #plane(x, y) {
    const ray = [(x - (this.width - 1) / 2) / this.focal, (y - (this.height - 1) / 2) / this.focal, 1];
    const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    const s = dot(this.n, this.C) / dot(this.n, ray);
    const v = [0, 1, 2].map((k) => ray[k] * s - this.C[k]);
    return [dot(v, this.ex), dot(v, this.ey)];
  }

  #background() {
    const out = new Uint8ClampedArray(4 * this.width * this.height);
    for (let y = 0, k = 0; y < this.height; y++)
      for (let x = 0; x < this.width; x++, k += 4) {
        const [r, d] = this.#plane(x, y);
        const far = Math.hypot(r, d);
        let g = far < 25 ? 205 : far < 100 ? 140 + 14 * Math.sin(r * 0.9) * Math.sin(d * 1.1) : 95 + 12 * Math.sin(x * 0.21) * Math.cos(y * 0.17);
        let rgb = [g, g * 0.98, g * 0.95];
        for (const [mr, md] of this.level_mm) {
          const [a, b] = [r - mr, d - md];
          if (Math.max(Math.abs(a), Math.abs(b)) < 12) rgb = a * b > 0 ? [20, 20, 20] : [235, 235, 235];
        }
        [out[k], out[k + 1], out[k + 2], out[k + 3]] = [...rgb, 255];
      }
    return out;
  }

  /** Where a dot is in the picture with dot A at room angle `phi_deg`. */
  place(k, phi_deg) {
    const { r_mm, at_deg } = this.dots[k];
    const a = rad(phi_deg + at_deg);
    return this.project([r_mm * Math.sin(a), r_mm * Math.cos(a)]);
  }

  /**
   * One picture.
   * @param {number} phi_deg room angle of dot A
   * @param {object} o light (factor), shift [x, y] whole pixels, bar {y0, y1} rows that a rail hides, dots false to leave them out,
   *   smear_deg how far the wheel turns while the shutter is open, `phi_deg` in its middle
   */
  picture(phi_deg, { light = 1, shift = [0, 0], bar = null, dots = true, smear_deg = 0 } = {}) {
    const { width, height } = this;
    this.base ??= this.#background();
    const data = this.base.slice();
    if (dots)
      this.dots.forEach((dot, k) => {
        const moments = smear_deg === 0 ? [0] : [-0.4, -0.2, 0, 0.2, 0.4].map((m) => m * smear_deg);
        const centres = moments.map((m) => rad(phi_deg + m + dot.at_deg)).map((a) => [dot.r_mm * Math.sin(a), dot.r_mm * Math.cos(a)]);
        const at = this.place(k, phi_deg);
        const reach = Math.ceil(((dot.size_mm + dot.r_mm * rad(Math.abs(smear_deg))) * this.focal) / this.distance_mm);
        for (let y = Math.max(0, Math.floor(at.y - reach)); y <= Math.min(height - 1, at.y + reach); y++)
          for (let x = Math.max(0, Math.floor(at.x - reach)); x <= Math.min(width - 1, at.x + reach); x++) {
            let cover = 0;
            for (let i = 0; i < 16; i++) {
              const [r, d] = this.#plane(x + ((i % 4) - 1.5) / 4, y + (Math.floor(i / 4) - 1.5) / 4);
              for (const [cr, cd] of centres) cover += Math.hypot(r - cr, d - cd) <= dot.size_mm / 2 ? 1 / (16 * centres.length) : 0;
            }
            const q = 4 * (y * width + x);
            for (let c = 0; c < 3; c++) data[q + c] += cover * (dot.rgb[c] - data[q + c]);
          }
      });
    if (bar) for (let q = 4 * width * bar.y0; q < 4 * width * bar.y1; q++) if (q % 4 < 3) data[q] = 70;
    const out = new Uint8ClampedArray(data.length);
    for (let y = 0; y < height; y++)
      for (let x = 0; x < width; x++) {
        const [sx, sy] = [Math.min(width - 1, Math.max(0, x - shift[0])), Math.min(height - 1, Math.max(0, y - shift[1]))];
        const [q, s] = [4 * (y * width + x), 4 * (sy * width + sx)];
        const n = this.noise * (this.rand() + this.rand() - 1);
        for (let c = 0; c < 3; c++) out[q + c] = data[s + c] * light + n;
        out[q + 3] = 255;
      }
    return new RgbaPicture(out, width, height);
  }
}

/** A clip in memory: pictures drawn when asked for. Has the shape of the Clip in frames.js. */
export function clipOf(scene, times, phi, options = () => ({})) {
  return {
    width: scene.width, height: scene.height, duration_s: times[times.length - 1], way: "decoder", time_sd_s: 0,
    async *frames({ from_s, to_s, signal }) {
      for (const t of times) if (t >= from_s - 1e-6 && t <= to_s + 1e-6 && !signal?.aborted) yield { time_s: t, picture: scene.picture(phi(t), options(t)) };
    },
    close() {},
  };
}

/** Bias and scatter of a log against the truth, degrees, over whole turns. */
export function judge(log, truth) {
  const off = log.t_s.map((t, i) => ((((log.angle_deg[i] - truth(t)) % 360) + 540) % 360) - 180);
  const bias = off.reduce((a, b) => a + b, 0) / off.length;
  return { bias, sd: Math.sqrt(off.reduce((s, d) => s + (d - bias) ** 2, 0) / off.length), n: off.length };
}
