// Dots, centre and fixed marks by themselves: round spots of a strong colour in a dozen pictures of the clip; what moves
// round a common centre are the dots, what stays are marks.
import { findSpots } from "./colour.js";
import { solve } from "./camera.js";

/** @typedef {import("./picture.js").Picture} Picture */
/** @typedef {import("./colour.js").Spot} Spot */
/** @typedef {{x: number, y: number}} Point */

/**
 * @typedef {object} Found
 * @property {{at: Point, time_s: number}[]} dots at most two, each with a picture that shows it whole
 * @property {Point|null} centre
 * @property {Point[]} marks two or none, in the first picture
 */

/** Spots of one colour lie within this share of their strength of one another. */
const SAME_COLOUR = 0.3;
/** What moves by less than this share of the picture's longer side stays (a hand shakes). */
const STAYS = 0.03;

/**
 * Gathers spots picture by picture, then tells them apart.
 */
export class Finder {
  /** @type {{time_s: number, spots: Spot[]}[]} */
  #seen = [];
  #side = 0;

  /**
   * @param {Picture} p
   * @param {number} time_s
   */
  add(p, time_s) {
    this.#side = Math.max(p.width, p.height);
    this.#seen.push({ time_s, spots: findSpots(p) });
  }

  /** @returns {Found} */
  result() {
    const seen = this.#seen;
    const groups = this.#groups();
    const moving = groups.filter((g) => g.length >= 0.4 * seen.length && reach(g) > STAYS * this.#side);
    /** @type {Found} */
    const none = { dots: [], centre: null, marks: this.#marks(groups) };
    if (moving.length === 0) return none;
    moving.sort((a, b) => b.length * b[0].spot.strength - a.length * a[0].spot.strength);
    const pairs = moving.slice(0, 4).flatMap((a, i) => moving.slice(i + 1, 4).map((b) => [a, b]));
    const rounds = [...pairs, ...moving.map((g) => [g])].map((gs) => ({ gs, circle: commonCircle(gs, this.#side) }));
    const good = rounds.find((r) => r.gs.length === 2 && r.circle) ?? rounds.find((r) => r.circle) ?? rounds.find((r) => r.gs.length === 1);
    if (!good) return none;
    const dots = good.gs.map((g) => {
      // The picture where its area is that of most: whole, not covered.
      const usual = [...g].sort((a, b) => a.spot.area - b.spot.area)[g.length >> 1].spot.area;
      const best = g.find((s) => Math.abs(s.spot.area / usual - 1) < 0.15) ?? g[0];
      return { at: { x: best.spot.x, y: best.spot.y }, time_s: best.time_s };
    });
    return { ...none, dots, centre: good.circle };
  }

  /** Spots of one colour, over time; at most one a picture, save that two marks may share a colour. */
  #groups() {
    /** @type {{spot: Spot, time_s: number}[][]} */
    const groups = [];
    for (const { time_s, spots } of this.#seen) {
      /** @type {Set<number>} */
      const taken = new Set();
      for (const spot of spots) {
        let [best, bestFar] = [-1, Infinity];
        groups.forEach((g, k) => {
          const last = g[g.length - 1].spot;
          const other = Math.hypot(spot.u - last.u, spot.v - last.v) > SAME_COLOUR * spot.strength || spot.area > 2 * last.area || spot.area < 0.5 * last.area;
          const far = Math.hypot(spot.x - last.x, spot.y - last.y);
          if (!taken.has(k) && !other && far < bestFar) [best, bestFar] = [k, far];
        });
        // Two spots of like colour in the first picture are two groups; later ones go to the nearer.
        if (best >= 0) groups[best].push({ spot, time_s });
        else groups.push([{ spot, time_s }]);
        taken.add(best >= 0 ? best : groups.length - 1);
      }
    }
    return groups;
  }

  /** Two spots that stay, of one colour, about level, far apart. */
  #marks(/** @type {{spot: Spot, time_s: number}[][]} */ groups) {
    const still = groups.filter((g) => g.length >= 0.7 * this.#seen.length && reach(g) <= STAYS * this.#side && g[0].time_s === this.#seen[0].time_s);
    /** @type {Point[]} */
    let best = [];
    let widest = 0.2 * this.#side;
    still.forEach((a, i) =>
      still.slice(i + 1).forEach((b) => {
        const [p, q] = [a[0].spot, b[0].spot];
        const apart = Math.abs(p.x - q.x);
        const alike = Math.hypot(p.u - q.u, p.v - q.v) < SAME_COLOUR * p.strength && p.area < 2 * q.area && q.area < 2 * p.area;
        // Level to 8°: a phone is not held more askew than that.
        if (alike && Math.abs(p.y - q.y) < 0.14 * apart && apart > widest) [widest, best] = [apart, [p, q].sort((s, t) => s.x - t.x).map(({ x, y }) => ({ x, y }))];
      }),
    );
    return best;
  }
}

/** How far a group spreads. @param {{spot: Spot}[]} g */
function reach(g) {
  const xs = g.map((s) => s.spot.x);
  const ys = g.map((s) => s.spot.y);
  return Math.hypot(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys));
}

/**
 * The common centre of circles through groups of places (least squares on x² + y² = 2cx·x + 2cy·y + k of each); null when
 * they are none, or too short an arc to tell.
 * @param {{spot: Spot}[][]} groups
 * @param {number} side
 * @returns {Point|null}
 */
function commonCircle(groups, side) {
  const m = 2 + groups.length;
  const normal = Array.from({ length: m }, () => new Array(m).fill(0));
  const rhs = new Array(m).fill(0);
  const o = groups[0][0].spot;
  groups.forEach((g, k) =>
    g.forEach(({ spot }) => {
      const [x, y] = [(spot.x - o.x) / side, (spot.y - o.y) / side];
      const row = new Array(m).fill(0);
      [row[0], row[1], row[2 + k]] = [2 * x, 2 * y, 1];
      for (let a = 0; a < m; a++) {
        rhs[a] += row[a] * (x * x + y * y);
        for (let b = 0; b < m; b++) normal[a][b] += row[a] * row[b];
      }
    }),
  );
  const c = solve(normal, rhs);
  if (!c) return null;
  const centre = { x: o.x + c[0] * side, y: o.y + c[1] * side };
  for (const g of groups) {
    const radii = g.map(({ spot }) => Math.hypot(spot.x - centre.x, spot.y - centre.y));
    const mean = radii.reduce((s, r) => s + r, 0) / radii.length;
    // On its circle within what perspective does, and far enough round it for the centre to be told.
    if (mean < 0.04 * side || mean > 0.5 * side || radii.some((r) => Math.abs(r / mean - 1) > 0.12) || reach(g) < 0.5 * mean) return null;
  }
  return centre;
}
