// A clip from end to end: look it over for dots and marks, follow them, work out the angles. No page in here.
import { angleLog, LEAST_ANGLES, STILL_PX, remarks } from "./angles.js";
import { solveCamera } from "./camera.js";
import { learnDot } from "./colour.js";
import { Finder } from "./find.js";
import { UNMOVED, findMark, learnMark, steadyPatches, toFirst } from "./marks.js";
import { ClipFault } from "./messages.js";
import { Tracker, withoutEdges } from "./track.js";

/** @typedef {import("./frames.js").Clip} Clip */
/** @typedef {import("./picture.js").Picture} Picture */
/** @typedef {import("./track.js").Step} Step */
/** @typedef {{x: number, y: number}} Point */

/** Pictures looked at to find the dots. */
const LOOKED_AT = 12;
/** Longest part of a clip that is followed unasked, s: more than a swing of the slowest wheel worth a clip. */
export const LONGEST_S = 120;
/** How well a tapped centre is known, pixels at 1000 across: a finger, with a loupe. */
const TAPPED_SD = 5;
/** A phone that moved by more than this share of the longer side, without marks, tells nothing: the wheel may have left its circle. */
const MOVED_FAR = 0.025;
/** The background is sought within this share of the longer side about where it was. */
const SOUGHT = 1 / 32;
/** Somebody who walks past hides the background for less than this share of a clip; a phone that turned away loses it for longer. */
const MOST_HIDDEN = 0.2;
/** The centre of the circle through places on an ellipse seen from aside: off by perspective, 12 at 1000 at 12°. */
const FOUND_SD = 16;

/**
 * What a person gives, or accepts as found.
 * @typedef {object} Setup
 * @property {{name: "A"|"B", at: Point, time_s: number}[]} dots tapped in the picture at that time
 * @property {Point} centre in the first picture
 * @property {boolean} [centreFound] it was found from the dots' circles and not tapped
 * @property {Point[]} marks two or none, in the first picture
 * @property {number} from_s
 * @property {number} to_s
 * @property {{name: "A"|"B", at: Point, time_s: number}[]} [corrections] where a dot was put right by hand
 */

/**
 * The picture shown at a time.
 * @template T
 * @param {Clip} clip
 * @param {number} time_s
 * @param {(p: Picture, time_s: number) => T} use the picture is good only inside
 * @returns {Promise<T>}
 */
export async function pictureAt(clip, time_s, use) {
  const from_s = Math.max(0, Math.min(time_s, clip.duration_s - 0.05) - 1e-4);
  for await (const frame of clip.frames({ from_s, to_s: clip.duration_s })) return use(frame.picture, frame.time_s);
  throw new ClipFault("too-short", { frames: 0 });
}

/**
 * Find dots, centre and marks.
 * @param {Clip} clip
 * @param {{to_s: number, onPicture?: (share: number) => void}} how
 * @returns {Promise<import("./find.js").Found>}
 */
export async function lookOver(clip, { to_s, onPicture }) {
  const finder = new Finder();
  for (let k = 0; k < LOOKED_AT; k++) {
    await pictureAt(clip, (k * to_s) / LOOKED_AT, (p, t) => finder.add(p, t));
    onPicture?.((k + 1) / LOOKED_AT);
  }
  const found = finder.result();
  // The finder looks at every second or third pixel; learning each spot gives its centre to a part of one.
  const finer = (/** @type {Point} */ at) => (/** @type {Picture} */ p) => learnDot(p, at)?.blob ?? at;
  const dots = [];
  for (const d of found.dots) dots.push({ ...d, at: point(await pictureAt(clip, d.time_s, finer(d.at))) });
  const marks = [];
  for (const m of found.marks) marks.push(point(await pictureAt(clip, 0, finer(m))));
  return { ...found, dots, marks };
}

/** @param {Point} p @returns {Point} */
function point({ x, y }) {
  return { x, y };
}

/**
 * Follow the dots.
 * @param {Clip} clip
 * @param {Setup} setup
 * @param {{signal?: AbortSignal, onStep?: (step: Step, picture: Picture) => void}} [how]
 * @returns {Promise<{steps: Step[], shake_px: number}>} shake: how far the background moved (NaN: unknown)
 * @throws {ClipFault}
 */
export async function follow(clip, setup, { signal, onStep } = {}) {
  const dots = [];
  for (const d of setup.dots) {
    const learned = await pictureAt(clip, d.time_s, (p) => learnDot(p, d.at));
    if (!learned) throw new ClipFault("dot-like-wheel");
    dots.push({ name: d.name, colour: learned.colour, area: learned.blob.area, at: point(learned.blob) });
  }
  if (dots.length === 0) throw new ClipFault("no-dot");
  const reach = Math.max(...dots.map((d) => Math.hypot(d.at.x - setup.centre.x, d.at.y - setup.centre.y)));
  const given = setup.marks.length === 2;
  const learnt = await pictureAt(clip, 0, (p) => (given ? setup.marks.map((m) => learnMark(p, m)) : steadyPatches(p, setup.centre, 1.6 * reach)));
  const marks = learnt.filter((m) => m !== null);
  if (given && marks.length < 2) throw new ClipFault("marks-lost", { percent: 100 });

  const tracker = new Tracker({ dots, centre: setup.centre, marks: given ? marks : [] });
  const corrections = [...(setup.corrections ?? [])].sort((a, b) => a.time_s - b.time_s);
  /** @type {Step[]} */
  const steps = [];
  let shake_px = given || marks.length < 2 ? NaN : 0;
  let [looks, lost] = [0, 0];
  for await (const { time_s, picture } of clip.frames({ from_s: setup.from_s, to_s: setup.to_s, signal })) {
    while (corrections.length && corrections[0].time_s <= time_s + 1e-3) {
      const c = /** @type {NonNullable<Setup["corrections"]>[number]} */ (corrections.shift());
      tracker.put(setup.dots.findIndex((d) => d.name === c.name), c.at);
    }
    const step = tracker.next(picture, time_s);
    steps.push(step);
    if (shake_px >= 0 && steps.length % 10 === 1) {
      const by = moved(picture, marks);
      looks++;
      if (by === null) lost++;
      else shake_px = Math.max(shake_px, by);
    }
    onStep?.(step, picture);
  }
  if (lost > MOST_HIDDEN * looks) shake_px = Math.max(shake_px, SOUGHT * Math.max(clip.width, clip.height));
  if (given && steps.length) shake_px = Math.max(...steps.map((s) => shift(s.toFirst, setup.centre)));
  return { steps, shake_px };
}

/**
 * How far the background moved from where it was learned; null where it is not found.
 * @param {Picture} p
 * @param {import("./marks.js").Mark[]} marks
 */
function moved(p, marks) {
  const seen = marks.map((m) => ({ m, s: findMark(p, m, m, Math.max(p.width, p.height) * SOUGHT) })).filter(({ s }) => s.ok);
  return seen.length === marks.length ? Math.min(...seen.map(({ m, s }) => Math.hypot(s.x - m.x, s.y - m.y))) : null;
}

/** @param {typeof UNMOVED} map @param {Point} at */
function shift(map, at) {
  const q = toFirst(map, at);
  return Math.hypot(q.x - at.x, q.y - at.y);
}

/**
 * From the steps to the log and what there is to say.
 * @param {Clip} clip
 * @param {Setup} setup
 * @param {{steps: Step[], shake_px: number}} followed
 * @param {{mirrored: boolean, between_deg: number|null}} about `between_deg`: from dot A to dot B by the places typed
 * @throws {ClipFault}
 */
export function evaluate(clip, setup, followed, { mirrored, between_deg }) {
  const { shake_px } = followed;
  const steps = withoutEdges(followed.steps);
  const marks = setup.marks.length === 2;
  const level = marks ? /** @type {[Point, Point]} */ ([setup.marks[0], setup.marks[1]]) : null;
  const centreSd_px = ((setup.centreFound ? FOUND_SD : TAPPED_SD) * Math.max(clip.width, clip.height)) / 1000;
  // Less than the search for the background can tell is no move, however small the picture.
  if (!marks && shake_px > Math.max(STILL_PX, MOVED_FAR * Math.max(clip.width, clip.height))) throw new ClipFault("phone-moved-far", { px: shake_px });
  const seen = steps.filter((s) => s.dots.some((d) => d.ok)).length;
  const solved = seen < LEAST_ANGLES ? null : solveCamera({ steps, size: clip, centre: setup.centre, centreSd_px, level });
  if (!solved) throw new ClipFault("too-short", { frames: seen });
  const log = angleLog(steps, solved, { mirrored, placeA_deg: 0, time_sd_s: clip.time_sd_s, shake_px: marks ? NaN : shake_px });
  if (log.t_s.length < LEAST_ANGLES) throw new ClipFault("dots-not-rigid");
  const say = remarks(steps, solved, { names: setup.dots.map((d) => d.name), marks, way: clip.way, mirrored, between_deg, shake_px });
  return { solved, log, remarks: say };
}
