// What the clip page draws over the picture: dots, centre, marks, the trace, the loupe. Drawing only; nothing is decided here.

/** @typedef {{x: number, y: number}} Point */
/** @typedef {import("./track.js").Step} Step */

const LINE = { A: "#ff2d55", B: "#0a84ff", centre: "#ffd60a", mark1: "#32d74b", mark2: "#32d74b" };
const WORD = { A: "A", B: "B", centre: "centre", mark1: "1", mark2: "2" };

/** Names of the points that a person sets. @typedef {keyof typeof LINE} PointName */

/**
 * @param {CanvasRenderingContext2D} c
 * @param {Partial<Record<PointName, Point>>} points in this picture
 * @param {PointName} chosen
 * @param {number} px canvas pixels to one on the screen
 */
export function drawPoints(c, points, chosen, px) {
  for (const name of /** @type {PointName[]} */ (Object.keys(LINE))) {
    const at = points[name];
    if (!at) continue;
    const r = (name === chosen ? 13 : 10) * px;
    for (const [style, width] of /** @type {[string, number][]} */ ([["#000", 4], [LINE[name], 2]])) {
      c.strokeStyle = style;
      c.lineWidth = width * px;
      c.beginPath();
      c.arc(at.x, at.y, r, 0, 2 * Math.PI);
      c.moveTo(at.x - 0.4 * r, at.y);
      c.lineTo(at.x + 0.4 * r, at.y);
      c.moveTo(at.x, at.y - 0.4 * r);
      c.lineTo(at.x, at.y + 0.4 * r);
      c.stroke();
    }
    c.font = `bold ${15 * px}px system-ui, sans-serif`;
    c.lineWidth = 4 * px;
    c.strokeStyle = "#000";
    c.fillStyle = "#fff";
    c.strokeText(WORD[name], at.x + r + 3 * px, at.y + 5 * px);
    c.fillText(WORD[name], at.x + r + 3 * px, at.y + 5 * px);
  }
}

/**
 * Where the dots went: a dot of paint for each picture that gave a place.
 * @param {CanvasRenderingContext2D} c
 * @param {Step[]} steps
 * @param {("A"|"B")[]} names
 * @param {number} px
 */
export function drawTrace(c, steps, names, px) {
  names.forEach((name, k) => {
    c.fillStyle = LINE[name];
    for (const s of steps) {
      const d = s.dots[k];
      if (d.ok) c.fillRect(d.x - px, d.y - px, 2 * px, 2 * px);
    }
    const last = steps[steps.length - 1]?.dots[k];
    if (!last) return;
    // Full ring: seen; broken ring: not, with why.
    c.setLineDash(last.ok ? [] : [5 * px, 5 * px]);
    for (const [style, width] of /** @type {[string, number][]} */ ([["#000", 5], [LINE[name], 3]])) {
      c.strokeStyle = style;
      c.lineWidth = width * px;
      c.beginPath();
      c.arc(last.x, last.y, 14 * px, 0, 2 * Math.PI);
      c.stroke();
    }
    c.setLineDash([]);
    if (last.why) {
      c.font = `bold ${14 * px}px system-ui, sans-serif`;
      c.lineWidth = 4 * px;
      c.strokeStyle = "#000";
      c.fillStyle = "#fff";
      c.strokeText(last.why, last.x + 18 * px, last.y);
      c.fillText(last.why, last.x + 18 * px, last.y);
    }
  });
}

/**
 * A loupe on a point, in the corner away from it, so that a finger can set it finer than it is wide.
 * @param {CanvasRenderingContext2D} c
 * @param {CanvasImageSource} picture
 * @param {Point} at
 * @param {number} px
 */
export function drawLoupe(c, picture, at, px) {
  const side = 84 * px;
  const from = 22;
  const x = at.x < c.canvas.width / 2 ? c.canvas.width - side : 0;
  c.imageSmoothingEnabled = false;
  c.drawImage(picture, at.x - from, at.y - from, 2 * from, 2 * from, x, 0, side, side);
  c.imageSmoothingEnabled = true;
  c.strokeStyle = "#fff";
  c.lineWidth = 2 * px;
  c.strokeRect(x, 0, side, side);
  c.beginPath();
  c.moveTo(x + side / 2, side * 0.3);
  c.lineTo(x + side / 2, side * 0.7);
  c.moveTo(x + side * 0.3, side / 2);
  c.lineTo(x + side * 0.7, side / 2);
  c.stroke();
}

/**
 * The angle against time as the points of a polyline, 0 to 320 across and 0 to 120 down; unwrapped by the shorter way.
 * @param {number[]} t_s
 * @param {number[]} angle_deg
 * @returns {{points: string, low_deg: number, high_deg: number}}
 */
export function curve(t_s, angle_deg) {
  const a = [angle_deg[0]];
  for (let i = 1; i < angle_deg.length; i++) {
    const by = angle_deg[i] - angle_deg[i - 1];
    a.push(a[i - 1] + by - 360 * Math.round(by / 360));
  }
  const [low, high] = [Math.min(...a), Math.max(...a)];
  const [t0, t1] = [t_s[0], t_s[t_s.length - 1]];
  const every = Math.ceil(a.length / 600);
  const points = a.flatMap((v, i) => (i % every ? [] : [`${((320 * (t_s[i] - t0)) / (t1 - t0 || 1)).toFixed(1)},${(115 - (110 * (v - low)) / (high - low || 1)).toFixed(1)}`]));
  return { points: points.join(" "), low_deg: low, high_deg: high };
}
