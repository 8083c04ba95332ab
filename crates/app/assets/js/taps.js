// Taps of a thumb at the passages of a swinging wheel: time, count, evenness. Pure functions, no page.

/** Share by which like half swings may differ before the taps are called uneven (a thumb is good to 0.1–0.2 s). */
export const UNEVEN_SHARE = 0.12;
/** Two taps so close are one finger, s. */
const DOUBLE_S = 0.12;
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

/**
 * @typedef {object} Passages
 * @property {number} taps how many
 * @property {number} time_s from the first to the last
 * @property {string} say what is odd about them; empty when nothing is
 */

/**
 * Look over taps at two marks: a swing passes one, then the other, then turns back past the same one again.
 * @param {number[]} t_s
 * @param {number[]} mark 1 or 2 for each
 * @returns {Passages}
 */
export function passages(t_s, mark) {
  const time_s = t_s.length ? t_s[t_s.length - 1] - t_s[0] : 0;
  const out = { taps: t_s.length, time_s, say: "" };
  if (t_s.some((t, i) => i > 0 && t - t_s[i - 1] < DOUBLE_S)) out.say = "Two taps within a moment: take the last one back.";
  // Swinging past both: 1 2 | 2 1 | 1 2 …, so of three in a row never all are one mark's.
  else if (mark.includes(1) && mark.includes(2) && mark.some((m, i) => i > 1 && m === mark[i - 1] && m === mark[i - 2])) out.say = "A passage of the other mark was missed: start again.";
  return out;
}
