// Angles of the wheel: pure functions, no page. Degrees throughout.

/**
 * An angle wrapped into [0, 360).
 * @param {number} deg
 * @returns {number}
 */
export function wrap360(deg) {
  const d = ((deg % 360) + 360) % 360;
  return d >= 360 ? 0 : d;
}

/**
 * An angle wrapped into (−180, 180].
 * @param {number} deg
 * @returns {number}
 */
export function wrap180(deg) {
  const d = wrap360(deg);
  return d > 180 ? d - 360 : d;
}

/**
 * Direction from a centre to a point of the screen (y grows downwards), counter-clockwise from straight down as seen.
 * @param {number} dx to the right
 * @param {number} dy downwards
 * @returns {number} in [0, 360)
 */
export function roomAngle(dx, dy) {
  return wrap360((Math.atan2(dx, dy) * 180) / Math.PI);
}

/**
 * The rotor angle at the bottom when the zero mark stands at room angle `zeroMark`.
 * @param {number} zeroMark counter-clockwise from straight down
 * @returns {number} in [0, 360)
 */
export function bottomAngle(zeroMark) {
  return wrap360(-zeroMark);
}

/**
 * Degrees clockwise from twelve as a clock place, to the minute of the dial (half a degree).
 * @param {number} clockwise
 * @returns {string}
 */
export function clockText(clockwise) {
  const minutes = Math.round(wrap360(clockwise) * 2) % 720;
  const hour = Math.floor(minutes / 60) || 12;
  return `${hour}:${String(minutes % 60).padStart(2, "0")}`;
}

/**
 * A clock place ("4:30", "7.5", "12") as degrees clockwise from twelve; null when it is none.
 * @param {string} text
 * @returns {number|null}
 */
export function readClock(text) {
  const t = text.trim().replace(",", ".");
  let hours;
  const pair = /^(\d{1,2}):(\d{1,2})$/.exec(t);
  if (pair) {
    if (Number(pair[2]) > 59) return null;
    hours = Number(pair[1]) + Number(pair[2]) / 60;
  } else if (/^\d{1,2}(\.\d+)?$/.test(t)) {
    hours = Number(t);
  } else {
    return null;
  }
  return hours < 13 ? wrap360(hours * 30) : null;
}

/**
 * A rotor angle as this person types it.
 * @param {number} deg counter-clockwise from the zero mark
 * @param {string} style "ccw", "cw" or "clock"
 * @returns {string}
 */
export function angleText(deg, style) {
  if (style === "clock") return clockText(-deg);
  const d = Math.round(wrap360(style === "cw" ? -deg : deg) * 10) / 10;
  return String(d >= 360 ? 0 : d);
}

/**
 * The reverse of {@link angleText}; null when it can't be read here (the server reads more, and has the last word).
 * @param {string} text
 * @param {string} style
 * @returns {number|null}
 */
export function readAngle(text, style) {
  if (style === "clock") {
    const c = readClock(text);
    return c === null ? null : wrap360(-c);
  }
  const t = text.trim().replace(",", ".").replace(/\s*(°|deg)$/, "");
  if (!/^[+-]?\d+(\.\d+)?$/.test(t)) return null;
  return wrap360(style === "cw" ? -Number(t) : Number(t));
}

/**
 * Where a clock place of the zero mark puts the wheel: room angle of the zero mark.
 * @param {number} clockwise degrees clockwise from twelve
 * @returns {number} counter-clockwise from straight down, [0, 360)
 */
export function zeroMarkFromClock(clockwise) {
  return wrap360(180 - clockwise);
}
