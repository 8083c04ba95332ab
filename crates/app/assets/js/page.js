// Small helps: opening the right form, one submit a press, the allowance as choices change, printing.

/** Wire what any page may hold. */
export function wirePage() {
  for (const link of document.querySelectorAll("[data-open]"))
    link.addEventListener("click", () => {
      const target = document.getElementById(/** @type {HTMLElement} */ (link).dataset.open ?? "");
      if (target instanceof HTMLDetailsElement) target.open = true;
    });
  const hash = location.hash.slice(1) && document.getElementById(location.hash.slice(1));
  if (hash instanceof HTMLDetailsElement) hash.open = true;

  // A second press while the first is under way would be stored once anyway; this spares the wait.
  for (const form of document.querySelectorAll("form"))
    form.addEventListener("submit", (e) => {
      if (form.dataset.sent) e.preventDefault();
      form.dataset.sent = "yes";
    });
  addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form")) delete form.dataset.sent;
  });

  document.querySelector("[data-print]")?.addEventListener("click", () => print());
  wireAllowance();
}

/** Work out the allowance anew whenever a choice changes. */
function wireAllowance() {
  const form = /** @type {HTMLFormElement|null} */ (document.getElementById("new-sitting"));
  if (!form) return;
  for (const name of ["rotor", "machine"])
    form.querySelector(`[name=${name}]`)?.addEventListener("change", () => {
      const query = new URLSearchParams(/** @type {any} */ (new FormData(form)));
      // Another rotor has other weights: their places are asked anew.
      if (name === "rotor") for (const key of [...query.keys()]) if (key.startsWith("at_deg_")) query.delete(key);
      location.replace(`/sittings/new?${query}`);
    });
}
