// Plays the look that the virtual bench took. Still when the person asked for less motion.
import { SHOWN_S, settling, swinging } from "./swing.js";
import { turnPicture } from "./turn.js";

/**
 * @param {HTMLElement} box with `data-rest` (room angle of the zero mark), and for a swing `data-amplitude`, `data-period`
 */
export function wirePlay(box) {
  const rest = Number(box.dataset.rest);
  if (!Number.isFinite(rest) || matchMedia("(prefers-reduced-motion: reduce)").matches) return;
  const amplitude = Number(box.dataset.amplitude);
  const period = Number(box.dataset.period);
  const start = performance.now();
  const frame = () => {
    const t = (performance.now() - start) / 1000;
    turnPicture(box, t >= SHOWN_S ? rest : period ? swinging(t, rest, amplitude, period) : settling(t, rest));
    if (t < SHOWN_S) requestAnimationFrame(frame);
  };
  frame();
}
