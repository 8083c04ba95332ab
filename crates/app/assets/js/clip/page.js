// The clip page: choose a clip, see what was found, put it right, follow the dots, hand in the angles. The clip itself never
// leaves the device; only the log of angles goes into the form.
import { readAngle } from "../angle.js";
import { curve, drawLoupe, drawPoints, drawTrace } from "./draw.js";
import { LONGEST_S, evaluate, follow, lookOver, pictureAt } from "./follow.js";
import { openClip } from "./frames.js";
import { ClipFault, message } from "./messages.js";
import { gaps } from "./track.js";

/** @typedef {import("./draw.js").PointName} PointName */
/** @typedef {{x: number, y: number}} Point */
/** @typedef {import("./messages.js").Message} Message */

/** Pictures of the trace a second that are drawn while it is followed: more would cost time that the tracker needs. */
const SHOWN_PER_S = 6;

/** @template {HTMLElement} T @param {string} id @returns {T} */
const el = (id) => /** @type {T} */ (document.getElementById(id));

class ClipPage {
  /** @type {import("./frames.js").Clip|null} */
  clip = null;
  /** @type {Partial<Record<PointName, Point & {time_s: number, found?: boolean}>>} */
  points = {};
  /** @type {PointName} */
  chosen = "A";
  /** @type {{name: "A"|"B", at: Point, time_s: number}[]} */
  corrections = [];
  /** @type {{steps: import("./track.js").Step[], shake_px: number, setup: import("./follow.js").Setup}|null} */
  followed = null;
  /** @type {AbortController|null} */
  running = null;
  shown_s = 0;
  canvas = /** @type {HTMLCanvasElement} */ (el("clip-picture"));
  still = document.createElement("canvas");
  /** Calls for a still picture come faster than they are answered; only the last one counts. */
  #asked = 0;

  constructor() {
    el("clip-file").addEventListener("change", () => this.open());
    for (const b of document.querySelectorAll("[name=point]")) b.addEventListener("change", () => this.choose(/** @type {PointName} */ (/** @type {HTMLInputElement} */ (b).value)));
    this.canvas.addEventListener("pointerdown", (e) => {
      const box = this.canvas.getBoundingClientRect();
      this.put({ x: ((e.clientX - box.left) * this.canvas.width) / box.width, y: ((e.clientY - box.top) * this.canvas.height) / box.height });
    });
    this.canvas.addEventListener("keydown", (e) => {
      const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
      if (!by) return;
      e.preventDefault();
      this.nudge(by[0] * (e.shiftKey ? 10 : 1), by[1] * (e.shiftKey ? 10 : 1));
    });
    for (const b of document.querySelectorAll("[data-nudge]"))
      b.addEventListener("click", () => {
        const [x, y] = (/** @type {HTMLElement} */ (b).dataset.nudge ?? "0 0").split(" ").map(Number);
        this.nudge(x, y);
      });
    el("clip-at").addEventListener("input", () => this.show(Number(/** @type {HTMLInputElement} */ (el("clip-at")).value)));
    for (const id of ["clip-from", "clip-to"]) el(id).addEventListener("input", () => this.cut());
    el("clip-swap").addEventListener("click", () => this.swap());
    el("clip-remove").addEventListener("click", () => this.remove());
    el("clip-follow").addEventListener("click", () => this.run());
    el("clip-stop").addEventListener("click", () => this.running?.abort());
    for (const id of ["clip-place_a", "clip-place_b"]) el(id).addEventListener("input", () => this.tell());
    for (const b of document.querySelectorAll("[name=seen_from]")) b.addEventListener("change", () => this.tell());
  }

  /** @param {Message[]} list @param {string} [where] */
  say(list, where = "clip-say") {
    el(where).replaceChildren(
      ...list.map((m) => {
        const p = document.createElement("p");
        p.className = "caution";
        p.dataset.code = m.code;
        const b = document.createElement("strong");
        b.textContent = m.say;
        p.append(b, ` ${m.todo}`);
        return p;
      }),
    );
  }

  /** @param {unknown} e */
  fail(e) {
    if (!(e instanceof ClipFault)) console.error(e);
    this.say([e instanceof ClipFault ? e.words : message("cannot-decode", { what: e instanceof Error ? e.message : String(e) })]);
    this.state("");
  }

  /** @param {string} text */
  state(text) {
    el("clip-state").textContent = text;
  }

  async open() {
    const file = /** @type {HTMLInputElement} */ (el("clip-file")).files?.[0];
    this.running?.abort();
    this.clip?.close();
    [this.clip, this.points, this.corrections] = [null, {}, []];
    this.forget();
    this.say([]);
    for (const id of ["clip-set", "clip-told"]) el(id).hidden = true;
    if (!file) return;
    this.state("Reading the clip …");
    try {
      const clip = await openClip(file);
      this.clip = clip;
      const end = Math.min(clip.duration_s, LONGEST_S);
      for (const [id, value] of /** @type {[string, number][]} */ ([["clip-at", 0], ["clip-from", 0], ["clip-to", end]])) {
        const range = /** @type {HTMLInputElement} */ (el(id));
        range.max = String(clip.duration_s);
        range.value = String(value);
      }
      [this.canvas.width, this.canvas.height, this.still.width, this.still.height] = [clip.width, clip.height, clip.width, clip.height];
      el("clip-set").hidden = false;
      this.words();
      await this.show(0);
      const found = await lookOver(clip, { to_s: end, onPicture: (share) => this.state(`Looking for dots … ${Math.round(100 * share)} %`) });
      found.dots.forEach((d, k) => (this.points[k === 0 ? "A" : "B"] = { ...d.at, time_s: d.time_s }));
      if (found.centre) this.points.centre = { ...found.centre, time_s: 0, found: true };
      found.marks.forEach((m, k) => (this.points[k === 0 ? "mark1" : "mark2"] = { ...m, time_s: 0 }));
      if (found.dots.length === 0) this.say([message("no-dot")]);
      else if (clip.duration_s > LONGEST_S) this.say([message("long-clip", { s: clip.duration_s })]);
      this.state(`${clip.width} × ${clip.height}, ${clip.duration_s.toFixed(1)} s. Found: ${this.list() || "nothing"}. Check each point, tap to put it right.`);
      this.choose(!this.points.A ? "A" : !this.points.centre ? "centre" : "A");
    } catch (e) {
      this.fail(e);
    }
  }

  list() {
    const names = { A: "dot A", B: "dot B", centre: "centre", mark1: "mark 1", mark2: "mark 2" };
    return /** @type {PointName[]} */ (Object.keys(names)).filter((n) => this.points[n]).map((n) => names[n]).join(", ");
  }

  /** @param {number} time_s */
  async show(time_s) {
    if (!this.clip || this.running) return;
    const asked = ++this.#asked;
    await Promise.resolve();
    try {
      await pictureAt(this.clip, time_s, (p, t) => {
        if (asked !== this.#asked) return;
        this.still.getContext("2d")?.putImageData(p.image(), 0, 0);
        this.shown_s = t;
      });
      if (asked === this.#asked) this.draw();
    } catch (e) {
      this.fail(e);
    }
  }

  /** Canvas pixels to one on the screen. */
  get px() {
    return this.canvas.width / (this.canvas.clientWidth || this.canvas.width);
  }

  draw() {
    const c = this.canvas.getContext("2d");
    if (!c) return;
    c.drawImage(this.still, 0, 0);
    if (this.followed) {
      const { steps, setup } = this.followed;
      drawTrace(c, steps.filter((s) => s.time_s <= this.shown_s + 1e-6), setup.dots.map((d) => d.name), this.px);
      return;
    }
    // Dots move: each is shown on its own picture only.
    const here = Object.fromEntries(Object.entries(this.points).filter(([n, p]) => !/^[AB]$/.test(n) || Math.abs(p.time_s - this.shown_s) < 1e-3));
    drawPoints(c, here, this.chosen, this.px);
    const p = here[this.chosen];
    if (p) drawLoupe(c, this.still, p, this.px);
    el("clip-at-words").textContent = `${this.shown_s.toFixed(2)} s`;
  }

  /** @param {PointName} name */
  choose(name) {
    this.chosen = name;
    const radio = /** @type {HTMLInputElement} */ (document.querySelector(`[name=point][value=${name}]`));
    radio.checked = true;
    const p = this.points[name];
    // Centre and marks belong to the first picture; a dot to the one where it was found.
    const at = this.followed && /^[AB]$/.test(name) ? this.shown_s : p ? p.time_s : /^[AB]$/.test(name) ? this.shown_s : 0;
    /** @type {HTMLInputElement} */ (el("clip-at")).value = String(at);
    this.show(at);
  }

  /** @param {Point} at */
  put(at) {
    if (!this.clip || this.running) return;
    const { chosen } = this;
    const dot = chosen === "A" || chosen === "B";
    if (!dot && this.shown_s > 1e-3) return this.choose(chosen);
    if (dot && this.followed && this.followed.setup.dots.some((d) => d.name === chosen)) {
      this.corrections = [...this.corrections.filter((c) => c.name !== chosen || Math.abs(c.time_s - this.shown_s) > 0.3), { name: chosen, at, time_s: this.shown_s }];
      this.state(`Dot ${chosen} put right at ${this.shown_s.toFixed(1)} s. Follow again.`);
    } else {
      this.points[chosen] = { ...at, time_s: this.shown_s };
      this.state(`Set: ${this.list()}.`);
    }
    this.forget();
    this.draw();
  }

  /** @param {number} dx @param {number} dy */
  nudge(dx, dy) {
    const p = this.points[this.chosen];
    if (p && !this.followed) this.put({ x: p.x + dx, y: p.y + dy });
  }

  swap() {
    [this.points.A, this.points.B] = [this.points.B, this.points.A];
    for (const c of this.corrections) c.name = c.name === "A" ? "B" : "A";
    this.forget();
    this.choose("A");
  }

  remove() {
    delete this.points[this.chosen];
    this.forget();
    this.state(`Set: ${this.list()}.`);
    this.draw();
  }

  /** What was followed no longer holds. */
  forget() {
    this.followed = null;
    el("clip-told").hidden = true;
    /** @type {HTMLInputElement} */ (el("clip-log")).value = "";
  }

  get range() {
    const [a, b] = ["clip-from", "clip-to"].map((id) => {
      const { value, max } = /** @type {HTMLInputElement} */ (el(id));
      // A slider stops at a whole step short of the end; its end means the clip's.
      return Number(value) >= Number(max) - 0.011 ? this.clip?.duration_s ?? Number(max) : Number(value);
    });
    return { from_s: Math.min(a, b), to_s: Math.max(a, b) };
  }

  words() {
    const { from_s, to_s } = this.range;
    el("clip-cut-words").textContent = `${from_s.toFixed(1)} s to ${to_s.toFixed(1)} s: ${(to_s - from_s).toFixed(1)} s`;
  }

  cut() {
    this.words();
    const { from_s, to_s } = this.range;
    const done = this.followed;
    // What was followed already is cut without following it again.
    if (done && from_s >= done.setup.from_s - 1e-3 && to_s <= done.setup.to_s + 1e-3) this.tell();
    else this.forget();
  }

  async run() {
    const { clip, points } = this;
    if (!clip || this.running) return;
    const marks = points.mark1 && points.mark2 ? [points.mark1, points.mark2] : [];
    const dots = /** @type {("A"|"B")[]} */ (["A", "B"]).flatMap((name) => (points[name] ? [{ name, at: points[name], time_s: points[name].time_s }] : []));
    if (dots.length === 0) return this.say([message("no-dot")]);
    if (!points.centre) {
      this.state("Tap the centre of the wheel.");
      return this.choose("centre");
    }
    const setup = { dots, centre: points.centre, centreFound: points.centre.found ?? false, marks, corrections: this.corrections, ...this.range };
    this.forget();
    this.say([]);
    this.running = new AbortController();
    const bar = /** @type {HTMLProgressElement} */ (el("clip-progress"));
    [bar.hidden, el("clip-stop").hidden, el("clip-follow").hidden] = [false, false, true];
    /** @type {import("./track.js").Step[]} */
    const sofar = [];
    let drawn = 0;
    const begun = performance.now();
    try {
      const c = this.canvas.getContext("2d");
      const onStep = (/** @type {import("./track.js").Step} */ step, /** @type {import("./picture.js").Picture} */ p) => {
        sofar.push(step);
        if (performance.now() - drawn < 1000 / SHOWN_PER_S) return;
        drawn = performance.now();
        bar.value = (step.time_s - setup.from_s) / (setup.to_s - setup.from_s);
        this.still.getContext("2d")?.putImageData(p.image(), 0, 0);
        this.shown_s = step.time_s;
        c?.drawImage(this.still, 0, 0);
        if (c) drawTrace(c, sofar, dots.map((d) => d.name), this.px);
        this.state(`${step.time_s.toFixed(1)} s …`);
      };
      const followed = await follow(clip, setup, { signal: this.running.signal, onStep });
      const took = (performance.now() - begun) / 1000;
      this.followed = { ...followed, setup };
      this.state(`${followed.steps.length} pictures in ${took.toFixed(1)} s.`);
      this.running = null;
      this.draw();
      this.tell();
    } catch (e) {
      this.running = null;
      this.fail(e);
    } finally {
      this.running = null;
      [bar.hidden, el("clip-stop").hidden, el("clip-follow").hidden] = [true, true, false];
    }
  }

  /** Work out the log and show what it is. */
  tell() {
    const done = this.followed;
    if (!done || !this.clip) return;
    const { from_s, to_s } = this.range;
    const steps = done.steps.filter((s) => s.time_s >= from_s - 1e-6 && s.time_s <= to_s + 1e-6);
    const mirrored = /** @type {HTMLInputElement} */ (document.querySelector("[name=seen_from][value=behind]")).checked;
    const style = document.body.dataset.angles ?? "ccw";
    const [a, b] = ["clip-place_a", "clip-place_b"].map((id) => readAngle(/** @type {HTMLInputElement} */ (el(id)).value, style));
    const log = /** @type {HTMLInputElement} */ (el("clip-log"));
    log.value = "";
    try {
      const out = evaluate(this.clip, done.setup, { steps, shake_px: done.shake_px }, { mirrored, between_deg: a !== null && b !== null ? b - a : null });
      const { points, low_deg, high_deg } = curve(out.log.t_s, out.log.angle_deg);
      document.querySelector("#clip-curve polyline")?.setAttribute("points", points);
      const used = Math.round((100 * steps.filter((s) => s.dots.some((d) => d.ok)).length) / steps.length);
      el("clip-sum").textContent = `${out.log.t_s.length} angles from ${used} % of the pictures, over ${(high_deg - low_deg).toFixed(0)}°; scatter of a dot ${out.solved.sd_px.toFixed(2)} pixels, camera ${out.solved.tilt_deg.toFixed(0)}° off the axis, angles as a whole to ±${(2 * out.log.common_sd_deg).toFixed(1)}°.`;
      this.say(out.remarks, "clip-remarks");
      this.holes(steps, done.setup.dots.map((d) => d.name));
      // A mirrored clip would put the heavy side on the wrong half: not handed in before that is cleared.
      const wrong = out.remarks.some((m) => m.code === "mirrored" || m.code === "places-differ");
      /** @type {HTMLButtonElement} */ (el("clip-store")).disabled = wrong;
      if (!wrong) log.value = JSON.stringify({ ...out.log, remarks: out.remarks.map((m) => m.say) });
      el("clip-told").hidden = false;
    } catch (e) {
      el("clip-told").hidden = true;
      this.fail(e);
    }
  }

  /** Times at which a dot was lost, each with a button that shows it. @param {import("./track.js").Step[]} steps @param {("A"|"B")[]} names */
  holes(steps, names) {
    const rows = names.flatMap((name, k) => gaps(steps, k, 0.3).slice(0, 4).map((g) => ({ name, ...g })));
    el("clip-holes").replaceChildren(
      ...rows.map((g) => {
        const b = document.createElement("button");
        [b.type, b.className] = ["button", "plain wide"];
        b.textContent = `Dot ${g.name} ${g.why}, ${g.from_s.toFixed(1)} s to ${g.to_s.toFixed(1)} s: show it`;
        b.addEventListener("click", async () => {
          /** @type {HTMLInputElement} */ (el("clip-at")).value = String(g.to_s);
          await this.show(g.to_s);
          this.choose(g.name);
          this.canvas.scrollIntoView({ block: "center" });
        });
        const li = document.createElement("li");
        li.append(b);
        return li;
      }),
    );
  }
}

if (document.getElementById("clip-file")) new ClipPage();
