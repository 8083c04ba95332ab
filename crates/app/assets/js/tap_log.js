// Taps at the passages of two marks: a time and a mark each, for the fit of a swing log.
import { passages } from "./taps.js";

const form = /** @type {HTMLFormElement|null} */ (document.querySelector("[data-taps]"));
if (form) {
  const log = /** @type {HTMLInputElement} */ (document.getElementById("taps-log"));
  const say = /** @type {HTMLElement} */ (document.getElementById("taps-say"));
  /** @type {{t_s: number[], mark: number[]}} */
  let taps = { t_s: [], mark: [] };
  try {
    // After a fault the taps come back with the page.
    if (log.value) taps = JSON.parse(log.value);
  } catch {
    taps = { t_s: [], mark: [] };
  }
  const show = () => {
    log.value = taps.t_s.length ? JSON.stringify(taps) : "";
    const p = passages(taps.t_s, taps.mark);
    say.classList.toggle("uneven", p.say !== "");
    say.textContent = p.say || (taps.t_s.length ? `${p.taps} taps in ${p.time_s.toFixed(1)} s${p.taps < 8 ? `: ${8 - p.taps} more at least` : ""}.` : "No tap yet.");
  };
  const tap = (/** @type {number} */ mark, /** @type {number} */ stamp_ms) => {
    taps.t_s.push(Math.round(stamp_ms) / 1000);
    taps.mark.push(mark);
    navigator.vibrate?.(20);
    show();
  };
  for (const pad of form.querySelectorAll("[data-mark]")) {
    const mark = Number(/** @type {HTMLElement} */ (pad).dataset.mark);
    // The time of the press counts, not that of the release nor of when the page got to it.
    pad.addEventListener("pointerdown", (e) => {
      if (/** @type {PointerEvent} */ (e).button === 0) tap(mark, e.timeStamp);
    });
    pad.addEventListener("keydown", (e) => {
      const key = /** @type {KeyboardEvent} */ (e);
      if ((key.key === " " || key.key === "Enter") && !key.repeat) {
        e.preventDefault();
        tap(mark, e.timeStamp);
      }
    });
  }
  document.getElementById("taps-back")?.addEventListener("click", () => {
    taps.t_s.pop();
    taps.mark.pop();
    show();
  });
  document.getElementById("taps-again")?.addEventListener("click", () => {
    taps = { t_s: [], mark: [] };
    show();
  });
  show();
}
