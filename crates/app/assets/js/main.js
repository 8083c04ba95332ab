// What scripts add to the pages. Every page works without.
import { wireDrag } from "./drag.js";
import { wireWatch } from "./watch.js";
import { wirePlay } from "./play.js";
import { wireLive } from "./live.js";
import { wirePage } from "./page.js";
import { wireSitting } from "./sitting.js";

for (const el of document.querySelectorAll(".needs-script")) /** @type {HTMLElement} */ (el).hidden = false;
for (const el of document.querySelectorAll("[data-drag]")) wireDrag(/** @type {HTMLElement} */ (el));
for (const el of document.querySelectorAll("[data-watch]")) wireWatch(/** @type {HTMLElement} */ (el));
for (const el of document.querySelectorAll("[data-play]")) wirePlay(/** @type {HTMLElement} */ (el));
for (const el of document.querySelectorAll("form[data-live]")) wireLive(/** @type {HTMLFormElement} */ (el));
for (const el of document.querySelectorAll("[data-sitting]")) wireSitting(/** @type {HTMLElement} */ (el));
wirePage();
