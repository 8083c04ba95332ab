// Plays the look that the virtual bench took. Still when the person asked for less motion.
import { SHOWN_S, settling, swinging } from "./swing.js";

/**
 * @param {SVGSVGElement} svg with `data-move`, `data-rest` (room angle of the zero mark), `data-amplitude`, `data-period`
 */
export function wirePlay(svg) {
  const turns = svg.querySelector(".turns");
  const rest = Number(svg.dataset.rest);
  if (!turns || !Number.isFinite(rest) || matchMedia("(prefers-reduced-motion: reduce)").matches) return;
  const swing = svg.dataset.move === "swing";
  const amplitude = Number(svg.dataset.amplitude) || 60;
  const period = Number(svg.dataset.period) || 4;
  const start = performance.now();
  const frame = () => {
    const t = (performance.now() - start) / 1000;
    const at = t >= SHOWN_S ? rest : swing ? swinging(t, rest, amplitude, period) : settling(t, rest);
    turns.setAttribute("transform", `rotate(${(180 - at).toFixed(2)})`);
    if (t < SHOWN_S) requestAnimationFrame(frame);
  };
  frame();
}
