// Dots and fixed marks from picture to picture. One Tracker follows one clip; it is fed pictures in order of time and holds
// no picture itself.
import { findBlob } from "./colour.js";
import { UNMOVED, findMark, fromFirst, similarity, toFirst } from "./marks.js";

/** @typedef {import("./picture.js").Picture} Picture */
/** @typedef {import("./colour.js").DotColour} DotColour */
/** @typedef {import("./colour.js").Blob} Blob */
/** @typedef {import("./marks.js").Mark} Mark */
/** @typedef {import("./marks.js").Similarity} Similarity */
/** @typedef {{x: number, y: number}} Point */

/**
 * A dot to follow.
 * @typedef {object} Dot
 * @property {"A"|"B"} name
 * @property {DotColour} colour
 * @property {number} area pixels, as learned
 * @property {Point} at where it was learned
 */

/** Why a dot gives no place: it is covered, smeared, outside, or simply not there. @typedef {"hidden"|"blurred"|"out of the picture"|"not found"} Why */

/**
 * A dot in one picture.
 * @typedef {object} DotSeen
 * @property {boolean} ok whole and clear: its place can be used
 * @property {number} x pixels of this picture (where it was expected, if not found)
 * @property {number} y
 * @property {Why|null} why why not ok
 * @property {number} share its area against the usual one; 0 when not found
 */

/**
 * One picture's outcome.
 * @typedef {object} Step
 * @property {number} time_s
 * @property {DotSeen[]} dots in the order of the tracker's dots
 * @property {Similarity} toFirst maps this picture onto the first
 * @property {number} marksSeen how many fixed marks were seen
 */

/** Area against the learned one within which a blob may be the dot at all. */
const AREA = [0.5, 1.7];
/** A dot whose area is off by more is partly hidden: its centre is not that of the dot. */
const WHOLE = 0.18;
/** A blob whose middle does not reach this share of the dot's colour is smeared or shaded. */
const CLEAR = 0.72;
/** The usual area follows slow changes of light and scale by this share a picture. */
const AREA_LEARNS = 0.02;

/** Follows dots and marks. */
export class Tracker {
  /** @type {(Point|null)[]} */
  #last;
  /** @type {Point[]} */
  #speed;
  #time = NaN;
  /** @type {number[]} */
  #area;
  /** @type {number[]} */
  #misses;
  /** @type {Point[]} */
  #markAt;
  /** @type {Similarity} */
  #map = UNMOVED;

  /**
   * @param {object} what
   * @param {Dot[]} what.dots one or two
   * @param {Point} what.centre of the wheel, in the first picture
   * @param {Mark[]} what.marks none or two
   */
  constructor({ dots, centre, marks }) {
    this.dots = dots;
    this.centre = centre;
    this.marks = marks;
    this.#last = dots.map(() => null);
    this.#speed = dots.map(() => ({ x: 0, y: 0 }));
    this.#area = dots.map((d) => d.area);
    this.#misses = dots.map(() => 0);
    this.#markAt = marks.map((m) => ({ x: m.x, y: m.y }));
  }

  /**
   * Put a dot right by hand: it is looked for here next.
   * @param {number} k place in `dots`
   * @param {Point} at
   */
  put(k, at) {
    this.#last[k] = { ...at };
    this.#speed[k] = { x: 0, y: 0 };
    this.#misses[k] = 0;
  }

  /**
   * Take in the next picture.
   * @param {Picture} p
   * @param {number} time_s
   * @returns {Step}
   */
  next(p, time_s) {
    const marksSeen = this.#followMarks(p);
    const dt = Number.isFinite(this.#time) ? time_s - this.#time : 0;
    this.#time = time_s;
    const dots = this.dots.map((dot, k) => this.#follow(p, dot, k, dt));
    return { time_s, dots, toFirst: this.#map, marksSeen };
  }

  /** @param {Picture} p */
  #followMarks(p) {
    if (this.marks.length < 2) return 0;
    // A hand moves a phone by a few pixels from one picture to the next.
    const reach = Math.max(8, Math.max(p.width, p.height) / 80);
    const seen = this.marks.map((m, k) => {
      let s = findMark(p, m, this.#markAt[k], reach);
      if (!s.ok) s = findMark(p, m, this.#markAt[k], 2.5 * reach);
      if (s.ok) this.#markAt[k] = { x: s.x, y: s.y };
      return s;
    });
    const good = seen.filter((s) => s.ok).length;
    const [m, n] = this.marks;
    if (good === 2) this.#map = similarity([seen[0], seen[1]], [m, n]);
    else if (good === 1) {
      // With one mark only the shift is known; turn and scale stay.
      const k = seen[0].ok ? 0 : 1;
      const at = toFirst(this.#map, seen[k]);
      this.#map = { ...this.#map, bx: this.#map.bx + this.marks[k].x - at.x, by: this.#map.by + this.marks[k].y - at.y };
      const other = fromFirst(this.#map, this.marks[1 - k]);
      this.#markAt[1 - k] = other;
    }
    return good;
  }

  /**
   * @param {Picture} p
   * @param {Dot} dot
   * @param {number} k
   * @param {number} dt
   * @returns {DotSeen}
   */
  #follow(p, dot, k, dt) {
    const last = this.#last[k];
    const radius = Math.sqrt(this.#area[k] / Math.PI);
    const expected = last ? { x: last.x + this.#speed[k].x * dt, y: last.y + this.#speed[k].y * dt } : fromFirst(this.#map, dot.at);
    let blob = this.#near(p, dot, k, expected, 3 * radius + 3);
    if (!blob) blob = this.#near(p, dot, k, expected, 7 * radius + 8);
    // Long out of sight: anywhere on its circle, which a dot on the wheel can't leave.
    if (!blob && (this.#misses[k] === 0 || this.#misses[k] % 5 === 4)) blob = this.#onCircle(p, dot, k, expected);
    if (!blob) {
      this.#misses[k]++;
      const out = expected.x < radius || expected.y < radius || expected.x > p.width - radius || expected.y > p.height - radius;
      // Behind the stand it goes on at its speed for a moment; longer guesses lead astray.
      if (last && this.#misses[k] < 4) this.#last[k] = expected;
      else this.#speed[k] = { x: 0, y: 0 };
      return { ok: false, x: expected.x, y: expected.y, why: out ? "out of the picture" : this.#misses[k] > 1 && this.#partly[k] ? "hidden" : "not found", share: 0 };
    }
    const missed = this.#misses[k];
    this.#misses[k] = 0;
    if (last && dt > 0 && missed === 0) this.#speed[k] = { x: (blob.x - last.x) / dt, y: (blob.y - last.y) / dt };
    else this.#speed[k] = { x: 0, y: 0 };
    this.#last[k] = { x: blob.x, y: blob.y };
    const usual = this.#area[k];
    const off = Math.abs(blob.area / usual - 1);
    const [whole, clear] = [off <= WHOLE, blob.peak >= CLEAR];
    this.#partly[k] = blob.area < usual * (1 - WHOLE);
    if (whole && clear) this.#area[k] += AREA_LEARNS * (blob.area - this.#area[k]);
    return { ok: whole && clear, x: blob.x, y: blob.y, why: !clear ? "blurred" : whole ? null : blob.area > usual ? "blurred" : "hidden", share: blob.area / usual };
  }

  /** Whether each dot was partly covered when it was last seen. @type {boolean[]} */
  #partly = [];

  /**
   * @param {Picture} p
   * @param {Dot} dot
   * @param {number} k
   * @param {Point} at
   * @param {number} reach
   * @returns {Blob|null}
   */
  #near(p, dot, k, at, reach) {
    const blob = findBlob(p, dot.colour, { x0: at.x - reach, y0: at.y - reach, x1: at.x + reach, y1: at.y + reach }, at, AREA[0] * this.#area[k]);
    return blob && !blob.cut && blob.area <= AREA[1] * this.#area[k] ? blob : null;
  }

  /**
   * @param {Picture} p
   * @param {Dot} dot
   * @param {number} k
   * @param {Point} near
   * @returns {Blob|null}
   */
  #onCircle(p, dot, k, near) {
    const c = fromFirst(this.#map, this.centre);
    const at = fromFirst(this.#map, dot.at);
    const r = Math.hypot(at.x - c.x, at.y - c.y);
    const radius = Math.sqrt(this.#area[k] / Math.PI);
    // A circle seen from aside is an ellipse: 20° off axis it is narrower by 6 %, perspective adds as much.
    const band = 0.2 * r + radius;
    const coarse = Math.max(1, Math.floor(radius / 4));
    const out = r + band;
    const rough = findBlob(p, dot.colour, { x0: c.x - out, y0: c.y - out, x1: c.x + out, y1: c.y + out, step: coarse }, near, AREA[0] * this.#area[k]);
    if (!rough || Math.abs(Math.hypot(rough.x - c.x, rough.y - c.y) - r) > band) return null;
    return this.#near(p, dot, k, rough, 2.5 * radius + 3);
  }
}

/** Next to where it was hidden a dot counts as whole from this share of its area on. */
const WHOLE_AGAIN = 0.97;
/** At most so many pictures before and after are taken as still partly hidden. */
const EDGE = 15;

/**
 * The steps with the edges of hidden times left out: a dot that goes behind the stand loses its first few percent of area, and its
 * centre a pixel, before a single picture can tell.
 * @param {Step[]} steps
 * @returns {Step[]}
 */
export function withoutEdges(steps) {
  const out = steps.map((s) => ({ ...s, dots: [...s.dots] }));
  for (const [k] of steps[0]?.dots.entries() ?? [])
    steps.forEach((s, i) => {
      if (s.dots[k].why !== "hidden") return;
      for (const way of [-1, 1])
        for (let n = 1; n <= EDGE; n++) {
          const d = steps[i + way * n]?.dots[k];
          if (!d || d.why === "hidden") break;
          if (d.ok && d.share >= WHOLE_AGAIN && n > 1) break;
          out[i + way * n].dots[k] = { ...d, ok: false, why: "hidden" };
        }
    });
  return out;
}

/**
 * Times during which a dot gave no place, longest first.
 * @param {Step[]} steps
 * @param {number} k which dot
 * @param {number} least_s shorter gaps are left out
 * @returns {{from_s: number, to_s: number, why: Why}[]}
 */
export function gaps(steps, k, least_s) {
  const out = [];
  for (let i = 0; i < steps.length; ) {
    if (steps[i].dots[k].ok) {
      i++;
      continue;
    }
    let j = i;
    /** @type {Map<Why, number>} */
    const votes = new Map();
    for (; j < steps.length && !steps[j].dots[k].ok; j++) {
      const why = steps[j].dots[k].why ?? "not found";
      votes.set(why, (votes.get(why) ?? 0) + 1);
    }
    // A dot that was covered bit by bit and then gone was hidden all the while.
    const why = votes.has("hidden") ? "hidden" : [...votes].sort((a, b) => b[1] - a[1])[0][0];
    const [from_s, to_s] = [steps[i].time_s, steps[Math.min(j, steps.length - 1)].time_s];
    if (to_s - from_s >= least_s) out.push({ from_s, to_s, why });
    i = j;
  }
  return out.sort((a, b) => b.to_s - b.from_s - (a.to_s - a.from_s));
}
