// The wheel picture as a way to enter a settle angle: drag it until it stands like the real one.
import { angleText, bottomAngle, clockText, readAngle, readClock, roomAngle, wrap180, wrap360, zeroMarkFromClock } from "./angle.js";
import { turnPicture } from "./turn.js";

/**
 * Wire one wheel to its fields.
 * @param {HTMLElement} box holds the picture and the nudge buttons; `data-drag` and `data-clock` name the fields
 */
export function wireDrag(box) {
  const svg = /** @type {SVGSVGElement|null} */ (box.querySelector(".wheel svg"));
  if (!svg) return;
  const angle = /** @type {HTMLInputElement} */ (document.getElementById(box.dataset.drag ?? ""));
  const clock = /** @type {HTMLInputElement} */ (document.getElementById(box.dataset.clock ?? ""));
  const style = document.body.dataset.angles ?? "ccw";
  let zeroMark = 180;
  /** @type {{pointer: number, last: number}|null} */
  let held = null;

  svg.setAttribute("tabindex", "0");
  svg.setAttribute("role", "slider");
  svg.setAttribute("aria-valuemin", "0");
  svg.setAttribute("aria-valuemax", "360");

  const show = () => {
    turnPicture(box, zeroMark);
    svg.setAttribute("aria-valuenow", String(Math.round(bottomAngle(zeroMark))));
    svg.setAttribute("aria-valuetext", `${angleText(bottomAngle(zeroMark), style)} at the bottom, zero mark at ${clockText(180 - zeroMark)}`);
  };
  /** @param {number} deg */
  const turnTo = (deg) => {
    zeroMark = wrap360(deg);
    angle.value = angleText(Math.round(bottomAngle(zeroMark) * 2) / 2, style);
    clock.value = "";
    show();
  };
  /** @param {PointerEvent} e */
  const pointerAngle = (e) => {
    // The wheel's centre is the origin of the picture's own coordinates, wherever the picture's edges are.
    const m = svg.getScreenCTM();
    return roomAngle(e.clientX - (m?.e ?? 0), e.clientY - (m?.f ?? 0));
  };

  svg.addEventListener("pointerdown", (e) => {
    held = { pointer: e.pointerId, last: pointerAngle(e) };
    svg.setPointerCapture(e.pointerId);
    box.classList.add("held");
  });
  svg.addEventListener("pointermove", (e) => {
    if (!held || e.pointerId !== held.pointer) return;
    const now = pointerAngle(e);
    turnTo(zeroMark + wrap180(now - held.last));
    held.last = now;
  });
  for (const end of ["pointerup", "pointercancel"])
    svg.addEventListener(end, () => {
      held = null;
      box.classList.remove("held");
    });
  svg.addEventListener("keydown", (e) => {
    const by = { ArrowLeft: 1, ArrowUp: 1, ArrowRight: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[e.key];
    if (by === undefined) return;
    e.preventDefault();
    turnTo(zeroMark + (e.shiftKey ? 5 * by : by));
  });
  for (const b of box.querySelectorAll("[data-by]")) b.addEventListener("click", () => turnTo(zeroMark + Number(/** @type {HTMLElement} */ (b).dataset.by)));

  angle.addEventListener("input", () => {
    const deg = readAngle(angle.value, style);
    if (deg === null) return;
    zeroMark = wrap360(-deg);
    show();
  });
  clock.addEventListener("input", () => {
    const c = readClock(clock.value);
    if (c === null) return;
    zeroMark = zeroMarkFromClock(c);
    angle.value = "";
    show();
  });
  if (angle.value) angle.dispatchEvent(new Event("input"));
  else if (clock.value) clock.dispatchEvent(new Event("input"));
  show();
}
