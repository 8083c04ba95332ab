// A small reader of MP4 and MOV files: where each picture lies in the file and when it is shown. Only the tables are read,
// never the pictures. Every length and count is checked before it is believed, since a file may be cut or damaged.
//
// In: a Blob. Out: a Movie, or a ClipFault. Source of the box layout: ISO/IEC 14496-12 (boxes, sample tables, edit lists),
// 14496-15 (avcC, hvcC).
import { ClipFault } from "./messages.js";

/**
 * @typedef {object} Movie
 * @property {number} width pixels as stored, before the turn
 * @property {number} height
 * @property {0|90|180|270} turn_deg clockwise turn that brings the picture upright
 * @property {string} codec name for a VideoDecoder; empty when it is none that this reader knows
 * @property {Uint8Array|undefined} description the decoder's settings
 * @property {number} samples how many pictures
 * @property {Float64Array} offset place of each in the file, bytes, in order of decoding
 * @property {Uint32Array} size bytes of each
 * @property {Float64Array} time_s when each is shown, s
 * @property {Uint8Array} key 1 where decoding can start
 * @property {Uint8Array} shown 0 for pictures that the edit list leaves out
 * @property {number} duration_s from the first shown picture to the last one
 */

/** Largest table of contents that is read, bytes: an hour of pictures takes about 3 MB. */
const MOST_TABLE = 64 * 1024 * 1024;
/** Most pictures: more than an hour at 240 a second. */
const MOST_SAMPLES = 1_000_000;
/** Most boxes looked at on one level. */
const MOST_BOXES = 4096;

/**
 * What kind of file this is, by its first bytes.
 * @param {Uint8Array} b at least 12 bytes where the file has so many
 * @returns {"mp4"|"webm"|"picture"|"empty"|"unknown"}
 */
export function kindOfFile(b) {
  if (b.length === 0) return "empty";
  const at = (/** @type {number} */ i, /** @type {string} */ s) => [...s].every((c, k) => b[i + k] === c.charCodeAt(0));
  if (b[0] === 0xff && b[1] === 0xd8 && b[2] === 0xff) return "picture"; // JPEG
  if (b[0] === 0x89 && at(1, "PNG")) return "picture";
  if (at(0, "GIF8") || at(0, "BM") || at(0, "II*\0") || at(0, "MM\0*")) return "picture";
  if (at(0, "RIFF") && at(8, "WEBP")) return "picture";
  if (at(4, "ftyp")) return ["heic", "heix", "heim", "mif1", "avif"].some((brand) => at(8, brand)) ? "picture" : "mp4";
  if (["moov", "mdat", "wide", "free", "skip", "pnot", "styp"].some((t) => at(4, t))) return "mp4";
  if (b[0] === 0x1a && b[1] === 0x45 && b[2] === 0xdf && b[3] === 0xa3) return "webm";
  return "unknown";
}

/**
 * Read the tables of an MP4 or MOV file.
 * @param {Blob} file
 * @returns {Promise<Movie|null>} null: a sound file of this family whose tables lie in fragments; a player may show it
 * @throws {ClipFault}
 */
export async function readMovie(file) {
  let moov = null;
  let fragmented = false;
  let at = 0;
  for (let n = 0; at + 8 <= file.size && n < MOST_BOXES; n++) {
    const head = new DataView(await file.slice(at, at + 16).arrayBuffer());
    const box = boxHead(head, 0, file.size - at);
    if (box.type === "moov") {
      if (box.size > MOST_TABLE) throw new ClipFault("table-too-large");
      if (at + box.size > file.size) throw new ClipFault("cut-short");
      moov = new DataView(await file.slice(at + box.head, at + box.size).arrayBuffer());
      break;
    }
    if (box.type === "moof") fragmented = true;
    at += box.size;
  }
  if (!moov) {
    if (fragmented) return null;
    // A recording that was broken off has its pictures but never got its table.
    throw new ClipFault(at > file.size ? "cut-short" : "damaged", { what: "it has no table of contents" });
  }
  return readTables(moov, file.size);
}

/**
 * @param {DataView} v
 * @param {number} at
 * @param {number} room bytes from `at` to the end of what holds the box
 */
function boxHead(v, at, room) {
  if (room < 8 || at + 8 > v.byteLength) throw new ClipFault("damaged", { what: "a part is shorter than its own heading" });
  let size = v.getUint32(at);
  let head = 8;
  if (size === 1) {
    if (at + 16 > v.byteLength) throw new ClipFault("damaged", { what: "a part is shorter than its own heading" });
    size = v.getUint32(at + 8) * 2 ** 32 + v.getUint32(at + 12);
    head = 16;
  } else if (size === 0) size = room;
  if (size < head) throw new ClipFault("damaged", { what: "a part claims to be shorter than its own heading" });
  return { type: fourCc(v, at + 4), size, head };
}

/** @param {DataView} v @param {number} at */
function fourCc(v, at) {
  return String.fromCharCode(v.getUint8(at), v.getUint8(at + 1), v.getUint8(at + 2), v.getUint8(at + 3));
}

/**
 * The boxes inside a box, by type; of several with one type all are kept.
 * @param {DataView} v the box's content
 * @returns {Map<string, DataView[]>}
 */
function inside(v) {
  const out = new Map();
  for (let at = 0, n = 0; at + 8 <= v.byteLength && n < MOST_BOXES; n++) {
    const box = boxHead(v, at, v.byteLength - at);
    if (at + box.size > v.byteLength) throw new ClipFault("damaged", { what: `part “${printable(box.type)}” is longer than what holds it` });
    const view = new DataView(v.buffer, v.byteOffset + at + box.head, box.size - box.head);
    out.set(box.type, [...(out.get(box.type) ?? []), view]);
    at += box.size;
  }
  return out;
}

/** @param {string} type */
function printable(type) {
  return type.replace(/[^ -~]/g, "?");
}

/**
 * @param {Map<string, DataView[]>} boxes
 * @param {string} type
 * @param {number} least bytes that it must have
 */
function need(boxes, type, least) {
  const v = boxes.get(type)?.[0];
  if (!v || v.byteLength < least) throw new ClipFault("damaged", { what: `part “${type}” is missing or too short` });
  return v;
}

/**
 * Count of entries in a table, checked against the table's length.
 * @param {DataView} v
 * @param {number} at where the count stands
 * @param {number} each bytes of an entry
 * @param {string} type
 */
function count(v, at, each, type) {
  const n = v.getUint32(at);
  if (n > MOST_SAMPLES) throw new ClipFault("table-too-large");
  if (at + 4 + n * each > v.byteLength) throw new ClipFault("damaged", { what: `table “${type}” is cut` });
  return n;
}

/**
 * @param {DataView} moov
 * @param {number} fileSize
 * @returns {Movie|null}
 */
function readTables(moov, fileSize) {
  const top = inside(moov);
  const mvhd = need(top, "mvhd", 20);
  const movieScale = mvhd.getUint32(mvhd.getUint8(0) === 1 ? 20 : 12);
  for (const trak of top.get("trak") ?? []) {
    const t = inside(trak);
    const mdia = inside(need(t, "mdia", 8));
    if (fourCc(need(mdia, "hdlr", 12), 8) !== "vide") continue;
    const mdhd = need(mdia, "mdhd", 20);
    const scale = mdhd.getUint32(mdhd.getUint8(0) === 1 ? 20 : 12);
    if (scale === 0) throw new ClipFault("no-timestamps");
    const stbl = inside(need(inside(need(mdia, "minf", 8)), "stbl", 8));
    const entry = sampleEntry(need(stbl, "stsd", 16));
    const table = sampleTable(stbl, fileSize);
    if (table.size.length === 0) {
      if (top.has("mvex")) return null;
      throw new ClipFault("no-timestamps");
    }
    const { time_s, shown } = shownTimes(table.time, scale, edits(t, movieScale));
    let [first, last] = [Infinity, -Infinity];
    time_s.forEach((s, i) => {
      if (shown[i]) [first, last] = [Math.min(first, s), Math.max(last, s)];
    });
    if (!(last > first)) throw new ClipFault("no-timestamps");
    return { ...entry, turn_deg: turn(need(t, "tkhd", 84)), samples: table.size.length, offset: table.offset, size: table.size, time_s, key: table.key, shown, duration_s: last - first };
  }
  throw new ClipFault("no-picture-track");
}

/**
 * Place, size, time and key flag of each sample, in order of decoding.
 * @param {Map<string, DataView[]>} stbl
 * @param {number} fileSize
 */
function sampleTable(stbl, fileSize) {
  const stsz = need(stbl, "stsz", 12);
  const same = stsz.getUint32(4);
  const n = count(stsz, 8, same ? 0 : 4, "stsz");
  const size = new Uint32Array(n);
  for (let i = 0; i < n; i++) size[i] = same || stsz.getUint32(12 + 4 * i);

  const time = new Float64Array(n);
  const stts = need(stbl, "stts", 8);
  let [k, clock] = [0, 0];
  for (let e = 0, runs = count(stts, 4, 8, "stts"); e < runs; e++) {
    const step = stts.getUint32(12 + 8 * e);
    for (let c = stts.getUint32(8 + 8 * e); c > 0 && k < n; c--, clock += step) time[k++] = clock;
  }
  if (k < n) throw new ClipFault("damaged", { what: "some pictures have no time" });
  const ctts = stbl.get("ctts")?.[0];
  if (ctts && ctts.byteLength >= 8) {
    k = 0;
    for (let e = 0, runs = count(ctts, 4, 8, "ctts"); e < runs; e++) {
      // Signed in both versions: writers of version 0 put negative values too.
      const shift = ctts.getInt32(12 + 8 * e);
      for (let c = ctts.getUint32(8 + 8 * e); c > 0 && k < n; c--) time[k++] += shift;
    }
  }

  const co64 = stbl.get("co64")?.[0];
  const stco = co64 ?? need(stbl, "stco", 8);
  const chunks = count(stco, 4, co64 ? 8 : 4, "stco");
  const stsc = need(stbl, "stsc", 8);
  const runs = count(stsc, 4, 12, "stsc");
  const offset = new Float64Array(n);
  let sample = 0;
  for (let e = 0; e < runs; e++) {
    const from = stsc.getUint32(8 + 12 * e);
    const to = e + 1 < runs ? stsc.getUint32(8 + 12 * (e + 1)) : chunks + 1;
    const per = stsc.getUint32(12 + 12 * e);
    if (from < 1 || to < from || to > chunks + 1) throw new ClipFault("damaged", { what: "table “stsc” contradicts “stco”" });
    for (let c = from - 1; c < to - 1 && sample < n; c++) {
      let at = co64 ? co64.getUint32(8 + 8 * c) * 2 ** 32 + co64.getUint32(12 + 8 * c) : stco.getUint32(8 + 4 * c);
      for (let i = 0; i < per && sample < n; i++) {
        offset[sample] = at;
        at += size[sample++];
      }
      if (at > fileSize) throw new ClipFault("cut-short");
    }
  }
  if (sample < n) throw new ClipFault("damaged", { what: "some pictures have no place in the file" });

  const stss = stbl.get("stss")?.[0];
  const key = new Uint8Array(n);
  if (!stss) key.fill(1);
  else
    for (let e = 0, keys = count(stss, 4, 4, "stss"); e < keys; e++) {
      const i = stss.getUint32(8 + 4 * e) - 1;
      if (i < n) key[i] = 1;
    }
  return { size, time, offset, key };
}

/**
 * The edit list: [duration s, media time or −1] each; empty when there is none.
 * @param {Map<string, DataView[]>} trak
 * @param {number} movieScale
 */
function edits(trak, movieScale) {
  const edts = trak.get("edts")?.[0];
  const elst = edts && inside(edts).get("elst")?.[0];
  if (!elst || elst.byteLength < 8 || movieScale === 0) return [];
  const long = elst.getUint8(0) === 1;
  const out = [];
  for (let e = 0, n = count(elst, 4, long ? 20 : 12, "elst"); e < n && e < 64; e++) {
    const at = 8 + e * (long ? 20 : 12);
    const duration = long ? elst.getUint32(at) * 2 ** 32 + elst.getUint32(at + 4) : elst.getUint32(at);
    const from = long ? elst.getInt32(at + 8) * 2 ** 32 + elst.getUint32(at + 12) : elst.getInt32(at + 4);
    out.push({ duration_s: duration / movieScale, from });
  }
  return out;
}

/**
 * Times on the clip's own axis: an empty edit delays, the first real one cuts the start and the end. More than one real edit
 * (a clip put together from parts) is taken as far as the first.
 * @param {Float64Array} time media time
 * @param {number} scale ticks a second
 * @param {{duration_s: number, from: number}[]} list
 */
function shownTimes(time, scale, list) {
  const shown = new Uint8Array(time.length).fill(1);
  const time_s = new Float64Array(time.length);
  const real = list.findIndex((e) => e.from >= 0);
  const delay = list.slice(0, Math.max(real, 0)).reduce((s, e) => s + e.duration_s, 0);
  const start = real < 0 ? 0 : list[real].from;
  const length = real < 0 || list[real].duration_s === 0 ? Infinity : list[real].duration_s;
  const half = 0.5 / scale;
  for (let i = 0; i < time.length; i++) {
    const s = (time[i] - start) / scale;
    if (s < -half || s > length + half) shown[i] = 0;
    time_s[i] = s + delay;
  }
  return { time_s, shown };
}

/**
 * The turn in a track's matrix, to the nearest quarter.
 * @param {DataView} tkhd
 * @returns {0|90|180|270}
 */
function turn(tkhd) {
  const at = tkhd.getUint8(0) === 1 ? 52 : 40;
  if (tkhd.byteLength < at + 20) throw new ClipFault("damaged", { what: "part “tkhd” is missing or too short" });
  const [a, b] = [tkhd.getInt32(at), tkhd.getInt32(at + 4)];
  const quarter = ((Math.round(Math.atan2(b, a) / (Math.PI / 2)) % 4) + 4) % 4;
  return /** @type {0|90|180|270} */ (quarter * 90);
}

/**
 * Codec and size from the first sample description.
 * @param {DataView} stsd
 */
function sampleEntry(stsd) {
  const body = new DataView(stsd.buffer, stsd.byteOffset + 8, stsd.byteLength - 8);
  const box = boxHead(body, 0, body.byteLength);
  if (box.size > body.byteLength || box.size < 86) throw new ClipFault("damaged", { what: "part “stsd” is cut" });
  const entry = new DataView(body.buffer, body.byteOffset, box.size);
  const [width, height] = [entry.getUint16(32), entry.getUint16(34)];
  if (width === 0 || height === 0) throw new ClipFault("damaged", { what: "its pictures have no size" });
  // 8 heading, 78 of the picture entry; then the decoder's settings.
  const settings = inside(new DataView(entry.buffer, entry.byteOffset + 86, box.size - 86));
  const avcC = settings.get("avcC")?.[0];
  const hvcC = settings.get("hvcC")?.[0];
  const bytes = (/** @type {DataView} */ v) => new Uint8Array(v.buffer.slice(v.byteOffset, v.byteOffset + v.byteLength));
  if (/^avc[13]$/.test(box.type) && avcC && avcC.byteLength >= 7) return { width, height, codec: `${box.type}.${hex(avcC.getUint8(1))}${hex(avcC.getUint8(2))}${hex(avcC.getUint8(3))}`, description: bytes(avcC) };
  if (/^h(vc|ev)1$/.test(box.type) && hvcC && hvcC.byteLength >= 23) return { width, height, codec: `${box.type}.${hevcName(hvcC)}`, description: bytes(hvcC) };
  return { width, height, codec: "", description: undefined };
}

/** @param {number} byte */
function hex(byte) {
  return byte.toString(16).padStart(2, "0");
}

/**
 * Profile, compatibility, tier and level, constraints as ISO/IEC 14496-15 annex E writes them.
 * @param {DataView} c
 */
function hevcName(c) {
  const [space, tier, profile] = [c.getUint8(1) >> 6, (c.getUint8(1) >> 5) & 1, c.getUint8(1) & 31];
  let compatible = 0;
  for (let i = 0, w = c.getUint32(2); i < 32; i++) compatible = compatible * 2 + ((w >>> i) & 1);
  const constraints = [6, 7, 8, 9, 10, 11].map((i) => c.getUint8(i));
  while (constraints.at(-1) === 0) constraints.pop();
  return [`${["", "A", "B", "C"][space]}${profile}`, compatible.toString(16).toUpperCase(), `${tier ? "H" : "L"}${c.getUint8(12)}`, ...constraints.map((b) => b.toString(16).toUpperCase())].join(".");
}
