// From what was tracked to the log that the fit takes: room angle of the zero mark against time, with the sd of each angle.
import { roomAngleOfA, wrapPi } from "./camera.js";
import { message } from "./messages.js";
import { gaps } from "./track.js";

/** @typedef {import("./track.js").Step} Step */
/** @typedef {import("./camera.js").Solved} Solved */
/** @typedef {import("./messages.js").Message} Message */

/** Angles are never better than this, degrees: what is left of the bend of a lens, of the shutter, of compression. */
const LEAST_SD_DEG = 0.05;
/** Fewest angles worth a fit. */
export const LEAST_ANGLES = 30;
/** Most angles sent: a minute at 60 a second. More tell no more, and the record is kept for good. */
export const MOST_ANGLES = 3600;

/**
 * @typedef {object} AngleLog
 * @property {number[]} t_s
 * @property {number[]} angle_deg of the zero mark, counter-clockwise from straight down, −180 to 180
 * @property {number[]} sd_deg
 * @property {number} common_sd_deg sd of what all may be off by together
 * @property {number} once_a_turn_sd_deg sd of errors that go round with the wheel once a turn, and twice
 * @property {number} twice_a_turn_sd_deg
 */

/**
 * @typedef {object} Setting
 * @property {number} placeA_deg where dot A stands on the rotor, counter-clockwise from the zero mark, operator's side
 * @property {boolean} mirrored the clip shows the wheel mirrored, or from behind
 * @property {number} time_sd_s how far a picture's time may be off
 * @property {number} [shake_px] how far the picture moved where no marks take that out (NaN or missing: unknown)
 */

/** A background that moved by less, pixels, held still: the search for it is no better. */
export const STILL_PX = 3;

/**
 * The log.
 * @param {Step[]} steps
 * @param {Solved} solved
 * @param {Setting} setting
 * @returns {AngleLog}
 */
export function angleLog(steps, solved, { placeA_deg, mirrored, time_sd_s, shake_px }) {
  const shaken_deg = shakenBy(solved, shake_px ?? NaN);
  const seen = steps.flatMap((s) => {
    const a = roomAngleOfA(solved, s);
    return a ? [{ t: s.time_s, ...a }] : [];
  });
  const every = Math.ceil(seen.length / MOST_ANGLES);
  const kept = seen.filter((_, i) => i % every === 0);
  const degrees = 180 / Math.PI;
  return {
    t_s: kept.map((a) => round(a.t, 5)),
    angle_deg: kept.map((a) => {
      const d = (a.rad * degrees * (mirrored ? -1 : 1) - placeA_deg) % 360;
      return round(d > 180 ? d - 360 : d <= -180 ? d + 360 : d, 3);
    }),
    sd_deg: kept.map((a, i) => {
      const [b, c] = [kept[Math.max(0, i - 1)], kept[Math.min(kept.length - 1, i + 1)]];
      const speed = c.t > b.t ? Math.abs(wrapPi(c.rad - b.rad)) / (c.t - b.t) : 0;
      return round(Math.max(LEAST_SD_DEG, Math.hypot(a.sd_rad, speed * time_sd_s) * degrees), 4);
    }),
    common_sd_deg: round(Math.hypot(solved.common_sd_deg, shaken_deg), 3),
    // With two dots the centre drops out, and the tilt is left; with one the centre is the worse.
    once_a_turn_sd_deg: solved.radii.length === 1 ? round(Math.hypot(solved.bend_sd_deg, shaken_deg), 3) : 0,
    twice_a_turn_sd_deg: solved.radii.length === 1 ? 0 : round(Math.hypot(solved.bend_sd_deg, shaken_deg), 3),
  };
}

/**
 * How far a phone that moved may have turned the angles, one sd, degrees.
 *
 * A hand that moves the picture by so many pixels also turns it: about as far as the move is of the wheel's radius, since both come from
 * the same unsteady hold (common practice, no source). With one dot the move itself shifts the angle by as much.
 * @param {Solved} solved
 * @param {number} shake_px
 */
function shakenBy(solved, shake_px) {
  return shake_px > STILL_PX ? (Math.atan(shake_px / Math.min(...solved.radii)) * 180) / Math.PI : 0;
}

/** @param {number} v @param {number} places */
function round(v, places) {
  const f = 10 ** places;
  return Math.round(v * f) / f;
}

/**
 * What there is to say about the tracking.
 * @param {Step[]} steps
 * @param {Solved} solved
 * @param {object} about
 * @param {string[]} about.names of the dots
 * @param {boolean} about.marks whether two fixed marks were given
 * @param {"decoder"|"player"|"steps"} about.way
 * @param {boolean} about.mirrored
 * @param {number|null} about.between_deg from dot A to dot B by the places typed, counter-clockwise; null when B's was not typed
 * @param {number} about.shake_px how far the picture moved, if that is known (NaN: not)
 * @returns {Message[]}
 */
export function remarks(steps, solved, { names, marks, way, mirrored, between_deg, shake_px }) {
  /** @type {Message[]} */
  const out = [];
  const neither = steps.filter((s) => !s.dots.some((d) => d.ok)).length;
  const span = steps.length > 1 ? steps[steps.length - 1].time_s - steps[0].time_s : 0;
  // One dot behind the stand is as it should be; said is only what cost angles.
  names.forEach((dot, k) => {
    const worst = gaps(steps, k, 0.4)[0];
    if (worst && (names.length === 1 || neither > 0.05 * steps.length || worst.to_s - worst.from_s > 0.5 * span)) out.push(message("dot-lost", { dot, ...worst }));
  });
  if (span > 0 && (steps.length - 1) / span < 15) out.push(message("slow-frames", { per_s: (steps.length - 1) / span }));
  if (way === "steps") out.push(message("seek-times"));
  if (marks) {
    const blind = steps.filter((s) => s.marksSeen < 2).length / steps.length;
    if (blind > 0.05) out.push(message("marks-lost", { percent: Math.round(100 * blind) }));
  } else out.push(message(shake_px > STILL_PX ? "phone-moved" : "no-level", { px: shake_px, deg: shakenBy(solved, shake_px) }));
  if (names.length === 1 && solved.bend_sd_deg > 0.5) out.push(message("one-dot", { deg: solved.bend_sd_deg }));
  if (solved.tilt_deg > 20) out.push(message("far-off-axis", { deg: solved.tilt_deg }));
  if (solved.turned_deg < 5) out.push(message("hardly-moves", { deg: solved.turned_deg }));
  if (solved.sd_px > 0.02 * Math.min(...solved.radii)) out.push(message("dots-not-rigid"));
  if (between_deg !== null && Number.isFinite(solved.between)) out.push(...places(solved.between, between_deg, mirrored));
  return out;
}

/** Typed places agree with the clip within so much, degrees. */
const PLACES_AGREE_DEG = 6;

/**
 * Whether the typed places of both dots fit the angle between them in the clip; a mirrored clip shows it with the other sign.
 * @param {number} between rad in the picture
 * @param {number} typed_deg
 * @param {boolean} mirrored as the person says
 * @returns {Message[]}
 */
function places(between, typed_deg, mirrored) {
  const wrap = (/** @type {number} */ d) => (wrapPi((d * Math.PI) / 180) * 180) / Math.PI;
  const seen = ((between * 180) / Math.PI) * (mirrored ? -1 : 1);
  const off = (/** @type {number} */ s) => Math.abs(wrap(s - typed_deg));
  if (off(seen) <= PLACES_AGREE_DEG) return [];
  return [message(off(-seen) <= PLACES_AGREE_DEG ? "mirrored" : "places-differ", { seen: (seen + 360) % 360, typed: (typed_deg + 360) % 360 })];
}
