// What others store in this sitting, as it happens. Without it, a reload shows the same.

const TOLD = "stillwheel-told";

/**
 * Listen for what other devices store in the sitting on this page. A page on which nothing was begun is loaded anew; on one where
 * something was typed, only a note appears.
 * @param {HTMLElement} el with `data-sitting` (its address) and `data-seq` (the latest event shown)
 */
export function wireSitting(el) {
  const path = el.dataset.sitting ?? "";
  const note = /** @type {HTMLElement|null} */ (document.querySelector("[data-live-note]"));
  if (!path || !note || !("EventSource" in window)) return;
  /** @param {string} text */
  const say = (text) => {
    note.textContent = text;
    note.classList.remove("visually-hidden");
    note.classList.add("card");
  };
  const before = sessionStorage.getItem(TOLD);
  if (before) {
    sessionStorage.removeItem(TOLD);
    say(before);
  }
  const source = new EventSource(`${path}/live?after=${el.dataset.seq ?? 0}`);
  let begun = false;
  let told = "";
  // Typing, choosing, dragging, a running watch: work that a reload would lose.
  for (const kind of ["input", "pointerdown", "keydown"])
    el.addEventListener(kind, () => {
      begun = true;
    });
  // The page goes by itself, and its own act is no news.
  for (const kind of ["submit", "pagehide"]) addEventListener(kind, () => source.close());

  /** @param {string} text */
  const show = (text) => {
    told = told ? `${told} · ${text}` : text;
    if (begun) {
      say(`${told} `);
      const link = document.createElement("a");
      link.href = path;
      link.textContent = "Show it";
      note.append(link);
      return;
    }
    sessionStorage.setItem(TOLD, told);
    location.replace(path);
  };
  source.addEventListener("stored", (e) => {
    const event = JSON.parse(e.data);
    show(`${event.who || "Another device"}: ${event.say}`);
  });
  source.addEventListener("anew", () => show("The records were taken back to an earlier state."));
}
