// Sliders that answer while they move: the form goes to the server, the answer's part comes back. One request at a time;
// the newest values follow when it is back, so a slow phone never queues.

/** @param {HTMLFormElement} form */
export function wireLive(form) {
  const answer = document.getElementById(form.dataset.live ?? "");
  const to = form.dataset.to;
  if (!answer || !to) return;
  let busy = false;
  let again = false;

  async function ask() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    answer?.setAttribute("aria-busy", "true");
    try {
      const body = new URLSearchParams(/** @type {any} */ (new FormData(form)));
      const reply = await fetch(/** @type {string} */ (to), { method: "POST", body, headers: { "x-part": "answer" } });
      const text = await reply.text();
      if (reply.ok && answer) answer.innerHTML = text;
    } catch {
      // The network went away: the picture stays as it was, and the form still works by its button.
    }
    answer?.removeAttribute("aria-busy");
    busy = false;
    if (again) {
      again = false;
      ask();
    }
  }

  for (const range of form.querySelectorAll("input[type=range][data-for]")) {
    const slider = /** @type {HTMLInputElement} */ (range);
    const field = /** @type {HTMLInputElement|null} */ (document.getElementById(slider.dataset.for ?? ""));
    if (!field) continue;
    slider.addEventListener("input", () => {
      field.value = slider.value;
      ask();
    });
    field.addEventListener("input", () => {
      const v = Number(field.value.replace(",", "."));
      if (field.value.trim() !== "" && Number.isFinite(v)) slider.value = String(v);
      ask();
    });
  }
  for (const select of form.querySelectorAll("select")) select.addEventListener("change", ask);
  form.querySelector("[name=grade_mm_s]")?.addEventListener("input", ask);
}
