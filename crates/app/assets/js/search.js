// A running search: its bar is asked for twice a second; once it has ended, the whole page is loaded.

const PAUSE_MS = 500;

/** @param {HTMLElement} box `data-watch-search` is the address of the search */
export function wireSearch(box) {
  const at = box.dataset.watchSearch;
  if (!at) return;
  async function ask() {
    try {
      const reply = await fetch(/** @type {string} */ (at), { headers: { "x-part": "state" } });
      // The program was started anew and knows the search no more: the page says so.
      if (reply.status === 404) return location.reload();
      if (reply.ok) box.innerHTML = await reply.text();
    } catch {
      // The network went away: the search goes on, and so does the asking.
    }
    if (box.querySelector('[data-state="ended"]')) return location.reload();
    setTimeout(ask, PAUSE_MS);
  }
  setTimeout(ask, PAUSE_MS);
}
