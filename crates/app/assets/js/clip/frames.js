// A clip as a stream of pictures with their true times, whatever way this browser offers. The clip stays on the device.
//
// Three ways, best first: a decoder fed from the file's own tables (every picture, exact times; needs https or localhost);
// a muted player with a call for each picture (exact times, a few pictures may be missed, which does no harm: works on plain
// http); the player moved step by step (times only to the step). All hide behind one Clip.
import { ClipFault } from "./messages.js";
import { kindOfFile, readMovie } from "./mp4.js";
import { PlanePicture, RgbaPicture } from "./picture.js";

/** @typedef {import("./picture.js").Picture} Picture */
/** @typedef {import("./mp4.js").Movie} Movie */

/**
 * @typedef {object} Frame
 * @property {number} time_s when it is shown, s
 * @property {Picture} picture good until the next frame is asked for
 */

/**
 * @typedef {object} Clip
 * @property {number} width of its pictures, upright
 * @property {number} height
 * @property {number} duration_s
 * @property {"decoder"|"player"|"steps"} way how pictures come
 * @property {number} time_sd_s how far a time may be off: 0 but for steps
 * @property {(range: {from_s: number, to_s: number, signal?: AbortSignal}) => AsyncGenerator<Frame>} frames in order of time
 * @property {() => void} close
 */

/** Longest side that the tracker works with; more only takes time. Each dot still spans tens of pixels. */
const LONGEST_SIDE = 1920;
/** Longest side of pictures drawn through a canvas, where each pixel is converted. */
const LONGEST_DRAWN = 1280;
/** No picture for so long: given up, s. */
const PATIENCE_S = 15;
/** Bytes read from the file at once. */
const BLOCK = 2 * 1024 * 1024;
/** Step where a player can't tell when it shows a picture, s. */
const STEP_S = 1 / 30;

/**
 * Open a clip.
 * @param {Blob} file
 * @param {{way?: "decoder"|"player"|"steps"}} [only] for tests: this way and no other
 * @returns {Promise<Clip>}
 * @throws {ClipFault}
 */
export async function openClip(file, only = {}) {
  const kind = kindOfFile(new Uint8Array(await file.slice(0, 16).arrayBuffer()));
  if (kind === "empty") throw new ClipFault("empty-file");
  if (kind === "picture") throw new ClipFault("a-picture");
  if (kind === "unknown") throw new ClipFault("not-a-clip");
  // Read even where only a player can show it: damage is told better from the tables than by a player that just gives up.
  const movie = kind === "mp4" ? await readMovie(file) : null;
  if ((only.way ?? "decoder") === "decoder" && movie?.codec && typeof VideoDecoder === "function") {
    const config = { codec: movie.codec, description: movie.description, codedWidth: movie.width, codedHeight: movie.height };
    const known = await VideoDecoder.isConfigSupported(config).catch(() => null);
    if (known?.supported) return new DecodedClip(file, movie, config);
  }
  if (only.way === "decoder") throw new ClipFault("cannot-decode");
  return openPlayer(file, only.way);
}

/** Pictures from a decoder. Implements {@link Clip}. */
class DecodedClip {
  /**
   * @param {Blob} file
   * @param {Movie} movie
   * @param {VideoDecoderConfig} config
   */
  constructor(file, movie, config) {
    this.file = file;
    this.movie = movie;
    this.config = config;
    this.shrink = Math.ceil(Math.max(movie.width, movie.height) / LONGEST_SIDE);
    const [w, h] = [Math.floor(movie.width / this.shrink), Math.floor(movie.height / this.shrink)];
    [this.width, this.height] = movie.turn_deg % 180 ? [h, w] : [w, h];
    this.duration_s = movie.duration_s;
    /** @type {"decoder"} */
    this.way = "decoder";
    this.time_sd_s = 0;
    /** @type {Uint8Array} */
    this.buffer = new Uint8Array(0);
    // Times start at the first shown picture, as a player's do.
    this.start_s = movie.time_s.reduce((a, t, i) => (movie.shown[i] ? Math.min(a, t) : a), Infinity);
  }

  /** @returns {AsyncGenerator<Frame>} */
  async *frames(/** @type {{from_s: number, to_s: number, signal?: AbortSignal}} */ { from_s, to_s, signal }) {
    const { movie } = this;
    const wanted = (/** @type {number} */ i) => movie.shown[i] && movie.time_s[i] - this.start_s >= from_s - 1e-6 && movie.time_s[i] - this.start_s <= to_s + 1e-6;
    let first = 0;
    while (first < movie.samples && !wanted(first)) first++;
    let last = movie.samples - 1;
    while (last >= first && !wanted(last)) last--;
    if (last < first) return;
    while (first > 0 && !movie.key[first]) first--;

    /** @type {VideoFrame[]} */
    const ready = [];
    let done = false;
    /** @type {unknown} */
    let broken = null;
    let wake = () => {};
    const decoder = new VideoDecoder({
      output: (f) => {
        ready.push(f);
        wake();
      },
      error: (e) => {
        broken = e;
        wake();
      },
    });
    decoder.addEventListener("dequeue", () => wake());
    const read = reader(this.file);
    try {
      decoder.configure(this.config);
      let next = first;
      for (;;) {
        if (signal?.aborted) return;
        if (broken) throw new ClipFault("damaged", { what: "its pictures can’t be decoded" });
        while (next <= last && decoder.decodeQueueSize < 8 && ready.length < 4) {
          const data = await read(movie.offset[next], movie.size[next]);
          // The number of the picture stands in for its time, which microseconds would round.
          decoder.decode(new EncodedVideoChunk({ type: movie.key[next] ? "key" : "delta", timestamp: next, data }));
          if (++next > last)
            decoder.flush().then(
              () => {
                done = true;
                wake();
              },
              () => wake(),
            );
        }
        const frame = ready.shift();
        if (frame) {
          const i = frame.timestamp;
          if (wanted(i)) yield { time_s: movie.time_s[i] - this.start_s, picture: await this.#picture(frame) };
          else frame.close();
          continue;
        }
        if (done) return;
        await waited((k) => (wake = k));
      }
    } finally {
      for (const f of ready) f.close();
      if (decoder.state !== "closed") decoder.close();
    }
  }

  /**
   * The frame's pixels; the frame is closed.
   * @param {VideoFrame} frame
   * @returns {Promise<Picture>}
   */
  async #picture(frame) {
    try {
      const format = frame.format;
      if (format === "I420" || format === "NV12") {
        const bytes = frame.allocationSize();
        if (this.buffer.length < bytes) this.buffer = new Uint8Array(bytes);
        const layout = await frame.copyTo(this.buffer);
        const { width, height } = frame.visibleRect ?? { width: frame.codedWidth, height: frame.codedHeight };
        return new PlanePicture({ data: this.buffer, width, height, layout, format }, this.movie.turn_deg, this.shrink);
      }
      return drawn(frame, this.width, this.height, this.movie.turn_deg);
    } finally {
      frame.close();
    }
  }

  close() {
    this.buffer = new Uint8Array(0);
  }
}

/**
 * Reads pieces of a file by blocks: pictures lie one after the other, sound between them.
 * @param {Blob} file
 */
function reader(file) {
  let from = 0;
  let block = new Uint8Array(0);
  return async (/** @type {number} */ at, /** @type {number} */ size) => {
    if (at < from || at + size > from + block.length) {
      block = new Uint8Array(await file.slice(at, at + Math.max(size, BLOCK)).arrayBuffer());
      from = at;
      if (block.length < size) throw new ClipFault("cut-short");
    }
    return block.subarray(at - from, at - from + size);
  };
}

/**
 * Wait until woken.
 * @param {(wake: () => void) => void} give
 */
function waited(give) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new ClipFault("stalled")), PATIENCE_S * 1000);
    give(() => {
      clearTimeout(timer);
      resolve(undefined);
    });
  });
}

/** @type {HTMLCanvasElement|undefined} */
let canvas;

/**
 * Pixels by way of a canvas.
 * @param {CanvasImageSource} source
 * @param {number} width upright
 * @param {number} height
 * @param {number} turn_deg
 * @returns {Picture}
 */
function drawn(source, width, height, turn_deg) {
  canvas ??= document.createElement("canvas");
  if (canvas.width !== width || canvas.height !== height) [canvas.width, canvas.height] = [width, height];
  const c = canvas.getContext("2d", { willReadFrequently: true });
  if (!c) throw new ClipFault("cannot-decode", { what: "no canvas" });
  c.setTransform(1, 0, 0, 1, width / 2, height / 2);
  c.rotate((turn_deg * Math.PI) / 180);
  const [w, h] = turn_deg % 180 ? [height, width] : [width, height];
  c.drawImage(source, -w / 2, -h / 2, w, h);
  return new RgbaPicture(c.getImageData(0, 0, width, height).data, width, height);
}

/**
 * @param {Blob} file
 * @param {"decoder"|"player"|"steps"} [way]
 * @returns {Promise<Clip>}
 */
async function openPlayer(file, way) {
  const video = document.createElement("video");
  video.muted = true;
  video.playsInline = true;
  video.preload = "auto";
  const url = URL.createObjectURL(file);
  // Some phones play only what is in the page.
  video.className = "clip-player";
  video.setAttribute("aria-hidden", "true");
  document.body.append(video);
  const shut = () => {
    video.removeAttribute("src");
    video.load();
    video.remove();
    URL.revokeObjectURL(url);
  };
  try {
    video.src = url;
    await event(video, "loadeddata");
    if (!(video.videoWidth > 0)) throw new ClipFault("no-picture-track");
    if (video.duration === Infinity) {
      // A recording written as it was made does not say its length; a look at its end finds it.
      video.currentTime = 1e7;
      await event(video, "seeked");
      if (video.duration === Infinity) throw new ClipFault("no-timestamps");
    }
    return new PlayedClip(video, shut, way !== "steps" && "requestVideoFrameCallback" in video);
  } catch (e) {
    shut();
    throw e;
  }
}

/**
 * @param {HTMLVideoElement} video
 * @param {string} name
 */
function event(video, name) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => end(() => reject(new ClipFault("stalled"))), PATIENCE_S * 1000);
    const good = () => end(() => resolve(undefined));
    const bad = () => end(() => reject(new ClipFault("cannot-decode", { what: video.error?.message || undefined })));
    const end = (/** @type {() => void} */ then) => {
      clearTimeout(timer);
      video.removeEventListener(name, good);
      video.removeEventListener("error", bad);
      then();
    };
    video.addEventListener(name, good);
    video.addEventListener("error", bad);
    if (video.error) bad();
  });
}

/** Pictures from a player. Implements {@link Clip}. */
class PlayedClip {
  /**
   * @param {HTMLVideoElement} video
   * @param {() => void} shut
   * @param {boolean} tells whether it tells each picture it shows
   */
  constructor(video, shut, tells) {
    this.video = video;
    this.close = shut;
    this.tells = tells;
    const scale = Math.min(1, LONGEST_DRAWN / Math.max(video.videoWidth, video.videoHeight));
    this.width = Math.round(video.videoWidth * scale);
    this.height = Math.round(video.videoHeight * scale);
    this.duration_s = video.duration;
    /** @type {"player"|"steps"} */
    this.way = tells ? "player" : "steps";
    // A step shows the picture that began up to one picture's time before it: even over that span.
    this.time_sd_s = tells ? 0 : STEP_S / Math.sqrt(12);
  }

  /** @returns {AsyncGenerator<Frame>} */
  frames(/** @type {{from_s: number, to_s: number, signal?: AbortSignal}} */ range) {
    return this.tells ? this.#played(range) : this.#stepped(range);
  }

  async #to(/** @type {number} */ time_s) {
    if (this.video.currentTime === time_s && !this.video.seeking) return;
    const there = event(this.video, "seeked");
    this.video.currentTime = time_s;
    await there;
  }

  /** @returns {AsyncGenerator<Frame>} */
  async *#played(/** @type {{from_s: number, to_s: number, signal?: AbortSignal}} */ { from_s, to_s, signal }) {
    const { video } = this;
    /** @type {Frame[]} */
    const ready = [];
    let [done, last] = [false, -Infinity];
    let wake = () => {};
    /** @type {unknown} */
    let broken = null;
    const take = (/** @type {number} */ _now, /** @type {{mediaTime: number}} */ meta) => {
      const t = meta.mediaTime;
      if (t > to_s + 1e-6) done = true;
      else if (t > last && t >= from_s - 1e-6) {
        last = t;
        ready.push({ time_s: t, picture: drawn(video, this.width, this.height, 0) });
        // Rather a pause than a picture lost because the tracker was still busy.
        if (ready.length >= 2) video.pause();
      }
      if (!done) call = video.requestVideoFrameCallback(take);
      wake();
    };
    const ended = () => {
      done = true;
      wake();
    };
    const failed = () => {
      broken = new ClipFault("damaged", { what: "its pictures can’t be decoded" });
      wake();
    };
    let call = video.requestVideoFrameCallback(take);
    video.addEventListener("ended", ended);
    video.addEventListener("error", failed);
    try {
      await this.#to(from_s);
      for (;;) {
        if (signal?.aborted) return;
        if (broken) throw broken;
        const frame = ready.shift();
        if (frame) {
          yield frame;
          continue;
        }
        if (done) return;
        const woken = waited((k) => (wake = k));
        if (video.paused) video.play().catch(() => {});
        await woken;
      }
    } finally {
      video.pause();
      video.cancelVideoFrameCallback(call);
      video.removeEventListener("ended", ended);
      video.removeEventListener("error", failed);
    }
  }

  /** @returns {AsyncGenerator<Frame>} */
  async *#stepped(/** @type {{from_s: number, to_s: number, signal?: AbortSignal}} */ { from_s, to_s, signal }) {
    const end = Math.min(to_s, this.duration_s);
    for (let k = 0; from_s + k * STEP_S <= end && !signal?.aborted; k++) {
      // The middle of a step: never on the edge between two pictures of a clip at the same rate.
      const t = from_s + (k + 0.5) * STEP_S;
      await this.#to(Math.min(t, this.duration_s));
      yield { time_s: t - STEP_S / 2, picture: drawn(this.video, this.width, this.height, 0) };
    }
  }
}
