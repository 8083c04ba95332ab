// The stopwatch: one large area, one thumb. It counts passages, judges the taps and fills two fields.
import { judgeTaps } from "./taps.js";

/**
 * Wire one stopwatch.
 * @param {HTMLElement} box `data-watch` names the fields for swings and time
 */
export function wireWatch(box) {
  const [swings, time] = (box.dataset.watch ?? "").split(" ").map((id) => /** @type {HTMLInputElement} */ (document.getElementById(id)));
  const pad = /** @type {HTMLElement} */ (box.querySelector(".pad"));
  const clock = /** @type {HTMLElement} */ (box.querySelector(".time"));
  const count = /** @type {HTMLElement} */ (box.querySelector(".count"));
  const note = /** @type {HTMLElement} */ (box.querySelector(".note"));
  const expected = Number(box.dataset.expected) || null;
  /** @type {number[]} */
  let taps = [];
  let frame = 0;

  box.hidden = false;

  const tick = () => {
    const since = taps.length ? (performance.now() / 1000 - taps[0]) : 0;
    clock.textContent = `${since.toFixed(1)} s`;
    frame = taps.length ? requestAnimationFrame(tick) : 0;
  };
  const judge = () => {
    const j = judgeTaps(taps);
    const whole = j.halfSwings / 2;
    count.textContent = taps.length === 0 ? "Tap at a passage" : taps.length === 1 ? "Tap at the next passage" : `${whole} swing${whole === 1 ? "" : "s"} in ${j.time_s.toFixed(1)} s`;
    note.classList.toggle("uneven", j.uneven || j.lopsided);
    note.textContent = j.say || (taps.length === 1 && expected ? `One swing takes about ${expected.toFixed(expected < 10 ? 1 : 0)} s: the next passage in about ${(expected / 2).toFixed(expected < 20 ? 1 : 0)} s.` : "");
    if (j.halfSwings > 0) {
      swings.value = String(whole);
      time.value = j.time_s.toFixed(2);
    }
  };
  const tap = () => {
    taps.push(performance.now() / 1000);
    pad.classList.add("running");
    navigator.vibrate?.(20);
    judge();
    if (!frame) tick();
  };
  // The time of the press counts, not that of the release.
  pad.addEventListener("pointerdown", (e) => {
    if (e.button === 0) tap();
  });
  pad.addEventListener("keydown", (e) => {
    if ((e.key === " " || e.key === "Enter") && !e.repeat) {
      e.preventDefault();
      tap();
    }
  });
  box.querySelector("[data-again]")?.addEventListener("click", () => {
    taps = [];
    cancelAnimationFrame(frame);
    frame = 0;
    pad.classList.remove("running");
    clock.textContent = "0.0 s";
    swings.value = swings.defaultValue;
    time.value = "";
    judge();
  });
}
