// How the virtual wheel is shown to move: a picture of the look, not a simulation of it. Pure functions.

/** Longest that a picture moves, s. */
export const SHOWN_S = 6;

/**
 * Room angle of the zero mark at `t` for a wheel that comes to rest.
 * @param {number} t seconds since the start
 * @param {number} rest where it rests, degrees
 * @returns {number}
 */
export function settling(t, rest) {
  if (t >= SHOWN_S) return rest;
  const fade = Math.exp(-t / 1.4) * (1 - t / SHOWN_S);
  return rest + 75 * fade * Math.cos((2 * Math.PI * t) / 2.2);
}

/**
 * The same for a timed swing, sped up so that one swing fits the picture.
 * @param {number} t
 * @param {number} rest
 * @param {number} amplitude degrees
 * @param {number} period of the real swing, s
 * @returns {number}
 */
export function swinging(t, rest, amplitude, period) {
  const shown = Math.min(period, SHOWN_S * 0.75);
  return rest + amplitude * Math.cos((2 * Math.PI * Math.min(t, SHOWN_S)) / shown);
}
