import { test } from "node:test";
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { kindOfFile, readMovie } from "../../assets/js/clip/mp4.js";
import { ClipFault, message } from "../../assets/js/clip/messages.js";
import { random } from "./scene.mjs";

const clips = new URL("../../../../reference/clips/", import.meta.url);
const bytes = (name) => new Uint8Array(readFileSync(new URL(name, clips)));
const truth = (name) => JSON.parse(readFileSync(new URL(name, clips), "utf8"));
const code = (e) => (e instanceof ClipFault ? e.code : `${e.name}: ${e.message}`);

/** Place of the last box of a type, by its name in the bytes. */
function boxAt(b, type) {
  const name = [...type].map((c) => c.charCodeAt(0));
  for (let i = b.length - 4; i >= 4; i--) if (name.every((c, k) => b[i + k] === c)) return i - 4;
  throw new Error(`no ${type}`);
}

for (const c of ["a", "b"])
  test(`clip ${c}: each picture has its true time, at even and uneven rates`, async () => {
    const movie = await readMovie(new Blob([bytes(`clip-${c}.mp4`)]));
    const { time_s, frames, size_px } = truth(`clip-${c}.truth.json`);
    assert.deepEqual([movie.width, movie.height], size_px);
    assert.equal(movie.codec, "avc1.64001f");
    assert.equal(movie.turn_deg, 0);
    const shown = [...movie.time_s].filter((_, i) => movie.shown[i]).sort((p, q) => p - q);
    assert.equal(shown.length, frames);
    // The truth is written to 10 µs.
    shown.forEach((t, i) => assert.ok(Math.abs(t - shown[0] - time_s[i]) < 1e-5, `${i}: ${t}`));
  });

test("a quarter turn in the track's matrix is read", async () => {
  for (const [a, b, turn] of [[0, 1, 90], [-1, 0, 180], [0, -1, 270], [1, 0, 0]]) {
    const file = bytes("clip-a.mp4");
    const v = new DataView(file.buffer);
    const at = boxAt(file, "tkhd") + 8;
    const matrix = at + (v.getUint8(at) === 1 ? 52 : 40);
    [a, b, 0, -b, a].forEach((m, i) => v.setInt32(matrix + [0, 4, 8, 12, 16][i], m * 65536));
    assert.equal((await readMovie(new Blob([file]))).turn_deg, turn);
  }
});

test("files that are no clip are told apart by their first bytes", () => {
  const of = (...parts) => new Uint8Array(parts.flatMap((p) => (typeof p === "string" ? [...p].map((c) => c.charCodeAt(0)) : [p])));
  const rows = [
    [of(), "empty"], [of(0xff, 0xd8, 0xff, 0xe1, "        "), "picture"], [of(0x89, "PNG\r\n        "), "picture"], [of("RIFF0000WEBP"), "picture"],
    [of(0, 0, 0, 24, "ftypheic"), "picture"], [of(0, 0, 0, 24, "ftypisom"), "mp4"], [of(0, 0, 0, 8, "wide    "), "mp4"], [of(0x1a, 0x45, 0xdf, 0xa3, "        "), "webm"], [of("time,angle\n0,1"), "unknown"],
  ];
  for (const [b, kind] of rows) assert.equal(kindOfFile(b), kind, String(b));
});

test("a clip cut short, or without its table, is told so", async () => {
  const file = bytes("clip-a.mp4");
  const moov = boxAt(file, "moov");
  const refused = async (b) => readMovie(new Blob([b])).then(() => "accepted", code);
  for (const n of [moov - 1000, moov + 20, file.length - 1]) assert.match(await refused(file.slice(0, n)), /cut-short|damaged/, `${n} bytes`);
  const early = file.slice();
  // The pictures' places moved beyond the end of the file.
  const stco = boxAt(early, "stco");
  new DataView(early.buffer).setUint32(stco + 16, 0x7fffffff);
  assert.equal(await refused(early), "cut-short");
  assert.match(message("cut-short").say, /part of the file is missing/);
});

test("a table that claims to be huge is refused before it is read", async () => {
  const file = bytes("clip-a.mp4");
  for (const [type, at] of [["stsz", 16], ["stts", 12], ["stsc", 12], ["stco", 12], ["elst", 12]]) {
    const b = file.slice();
    new DataView(b.buffer).setUint32(boxAt(b, type) + at, 0xfffffff0);
    await assert.rejects(readMovie(new Blob([b])), (e) => ["table-too-large", "damaged"].includes(code(e)), type);
  }
  const big = new Uint8Array(32);
  const v = new DataView(big.buffer);
  [..."ftyp"].forEach((c, i) => (big[4 + i] = c.charCodeAt(0)));
  v.setUint32(0, 8);
  v.setUint32(8, 0x7fffffff);
  [..."moov"].forEach((c, i) => (big[12 + i] = c.charCodeAt(0)));
  await assert.rejects(readMovie(new Blob([big])), (e) => code(e) === "table-too-large");
});

test("any damage to the tables gives a movie or a fault in words, soon", async () => {
  const file = bytes("clip-b.mp4");
  const moov = boxAt(file, "moov");
  const long = new DataView(file.buffer).getUint32(moov);
  const r = random(11);
  let refused = 0;
  for (let k = 0; k < 400; k++) {
    const b = file.slice();
    for (let n = 0; n < 1 + 6 * r(); n++) b[moov + Math.floor(r() * long)] = Math.floor(256 * r());
    const outcome = await readMovie(new Blob([b])).then((m) => {
      assert.ok(!m || (m.size.length === m.samples && m.samples <= 1e6 && Number.isFinite(m.duration_s)));
      return "movie";
    }, code);
    if (outcome !== "movie") {
      refused++;
      assert.doesNotMatch(outcome, /:/, "not a ClipFault");
    }
  }
  assert.ok(refused > 40, `only ${refused} of 400 were noticed`);
});

test("every message says what is wrong and what to do", () => {
  for (const c of ["not-a-clip", "a-picture", "empty-file", "cut-short", "no-picture-track", "no-timestamps", "stalled", "table-too-large", "no-dot", "dot-like-wheel", "no-level", "seek-times", "dots-not-rigid"]) {
    const m = message(c);
    assert.ok(m.say.length > 10 && m.todo.length > 10, c);
  }
  for (const c of ["phone-moved", "phone-moved-far"]) assert.match(message(c, { px: 9.4, deg: 1.25 }).say, /moved by 9 pixels/);
  assert.throws(() => message("no such code"), RangeError);
});
