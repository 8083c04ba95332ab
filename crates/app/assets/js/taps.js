// Taps of a thumb at the passages of a swinging wheel: time, count, evenness. Pure functions, no page.

/** Share by which like half swings may differ before the taps are called uneven (a thumb is good to 0.1–0.2 s). */
export const UNEVEN_SHARE = 0.12;
/** Differences below this are the thumb, not the wheel, s. */
export const THUMB_S = 0.25;

/**
 * @typedef {object} TapsJudged
 * @property {number} halfSwings half swings between the first and the last tap
 * @property {number} time_s time between the first and the last tap
 * @property {boolean} uneven the taps do not look like one swing
 * @property {boolean} lopsided every other half swing is longer: the tapped place is not the middle
 * @property {string} say what to tell the person; empty when all is well
 */

/**
 * Judge taps at successive passages through one place.
 *
 * The half swings to one side and those to the other are compared among themselves, since a tapped place off the
 * middle makes them differ in turn without spoiling the time of a whole swing.
 * @param {number[]} taps_s times of the taps, rising
 * @returns {TapsJudged}
 */
export function judgeTaps(taps_s) {
  const gaps = taps_s.slice(1).map((t, i) => t - taps_s[i]);
  const time_s = gaps.reduce((a, b) => a + b, 0);
  const out = { halfSwings: gaps.length, time_s, uneven: false, lopsided: false, say: "" };
  if (gaps.length < 2) return out;
  const sides = [gaps.filter((_, i) => i % 2 === 0), gaps.filter((_, i) => i % 2 === 1)];
  out.uneven = sides.some(isUneven);
  const [a, b] = sides.map(mean);
  out.lopsided = !out.uneven && differ(a, b, (a + b) / 2);
  if (out.uneven) out.say = "Uneven taps: one was late, early or missed. Start again.";
  else if (out.lopsided && gaps.length % 2 === 1) out.say = "The halves differ: tap once more, so that whole swings are timed.";
  return out;
}

/** @param {number[]} gaps */
function isUneven(gaps) {
  const typical = median(gaps);
  return gaps.some((g) => differ(g, typical, typical));
}

/** @param {number} a @param {number} b @param {number} scale */
function differ(a, b, scale) {
  return Math.abs(a - b) > Math.max(UNEVEN_SHARE * scale, THUMB_S);
}

/** @param {number[]} v */
function mean(v) {
  return v.reduce((a, b) => a + b, 0) / v.length;
}

/** @param {number[]} v */
function median(v) {
  const s = [...v].sort((a, b) => a - b);
  const m = s.length >> 1;
  return s.length % 2 ? s[m] : (s[m - 1] + s[m]) / 2;
}
