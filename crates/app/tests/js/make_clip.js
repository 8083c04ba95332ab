// Test support, put into a page by the browser tests: draws a wheel with dots and writes it as an MP4 file, in the page itself.

/** One box of ISO/IEC 14496-12. */
const box = (type, ...parts) => {
  const bodies = parts.map((p) => (p instanceof Uint8Array ? p : new Uint8Array(p)));
  const size = 8 + bodies.reduce((s, b) => s + b.length, 0);
  const out = new Uint8Array(size);
  new DataView(out.buffer).setUint32(0, size);
  [...type].forEach((c, i) => (out[4 + i] = c.charCodeAt(0)));
  let at = 8;
  for (const b of bodies) {
    out.set(b, at);
    at += b.length;
  }
  return out;
};
const u32 = (...v) => v.flatMap((n) => [(n >>> 24) & 255, (n >>> 16) & 255, (n >>> 8) & 255, n & 255]);
const u16 = (...v) => v.flatMap((n) => [(n >> 8) & 255, n & 255]);

/**
 * @param {{width: number, height: number, times: number[], phi: (t: number) => number, dots?: boolean, mirrored?: boolean, turn?: number, bitrate?: number, plain?: boolean}} o
 *   `turn`: stored turned back by so many degrees, with the matrix that turns it upright
 */
async function makeClip({ width, height, times, phi, dots = true, mirrored = false, turn = 0, bitrate = 4e6, plain = false }) {
  const [w, h] = turn % 180 ? [height, width] : [width, height];
  const canvas = new OffscreenCanvas(w, h);
  const c = canvas.getContext("2d");
  const side = Math.min(width, height);
  const draw = (deg) => {
    c.setTransform(1, 0, 0, 1, w / 2, h / 2);
    c.rotate((-turn * Math.PI) / 180);
    if (mirrored) c.scale(-1, 1);
    const disc = (x, y, r, fill) => {
      c.fillStyle = fill;
      c.beginPath();
      c.arc(x, y, r, 0, 2 * Math.PI);
      c.fill();
    };
    c.fillStyle = "#6b645c";
    c.fillRect(-width, -height, 2 * width, 2 * height);
    if (!plain) {
      c.fillStyle = "#5a6a6e";
      for (let i = 0; i < 40; i++) c.fillRect(((i * 97) % 100) / 100 * width - width / 2, ((i * 61) % 100) / 100 * height - height / 2, width / 40, height / 30);
    }
    disc(0, 0, 0.4 * side, "#9a958c");
    disc(0, 0, 0.12 * side, "#d0d0d0");
    const at = (r, d) => [r * side * Math.sin((d * Math.PI) / 180), r * side * Math.cos((d * Math.PI) / 180)];
    if (dots) {
      disc(...at(0.3, deg), 0.028 * side, "#cd2d32");
      disc(...at(0.29, deg + 150), 0.028 * side, "#2855be");
    }
    for (const x of [-0.55, 0.55]) disc(x * side, 0.1 * side, 0.02 * side, "#e8d020");
  };
  const chunks = [];
  let settings;
  const encoder = new VideoEncoder({
    output: (chunk, meta) => {
      const data = new Uint8Array(chunk.byteLength);
      chunk.copyTo(data);
      chunks.push({ data, key: chunk.type === "key" });
      if (meta?.decoderConfig?.description) settings = new Uint8Array(meta.decoderConfig.description.slice(0));
    },
    error: (e) => {
      throw e;
    },
  });
  const codec = Math.max(w, h) > 1920 ? "avc1.640033" : "avc1.640028";
  encoder.configure({ codec, width: w, height: h, bitrate, framerate: 30, avc: { format: "avc" }, latencyMode: "realtime" });
  for (const [i, t] of times.entries()) {
    draw(phi(t));
    const frame = new VideoFrame(canvas, { timestamp: Math.round(t * 1e6) });
    encoder.encode(frame, { keyFrame: i % 60 === 0 });
    frame.close();
    if (encoder.encodeQueueSize > 8) await new Promise((k) => encoder.addEventListener("dequeue", k, { once: true }));
  }
  await encoder.flush();
  encoder.close();

  const scale = 90000;
  const ticks = times.map((t) => Math.round(t * scale));
  const steps = ticks.map((t, i) => (i + 1 < ticks.length ? ticks[i + 1] - t : t - (ticks[i - 1] ?? 0) || 3000));
  const length = ticks[ticks.length - 1] + steps[steps.length - 1];
  const turns = { 0: [1, 0, 0, 1], 90: [0, 1, -1, 0], 180: [-1, 0, 0, -1], 270: [0, -1, 1, 0] }[turn].map((v) => v * 65536);
  const matrix = u32(turns[0], turns[1], 0, turns[2], turns[3], 0, 0, 0, 0x40000000);
  const unit = u32(65536, 0, 0, 0, 65536, 0, 0, 0, 0x40000000);
  const ftyp = box("ftyp", [..."isom"].map((x) => x.charCodeAt(0)), u32(512), [..."isomavc1"].map((x) => x.charCodeAt(0)));
  const keys = chunks.flatMap((k, i) => (k.key ? [i + 1] : []));
  const moov = (first) => {
    let at = first;
    const places = chunks.map((k) => {
      const here = at;
      at += k.data.length;
      return here;
    });
    const avc1 = box("avc1", [0, 0, 0, 0, 0, 0], u16(1), new Array(16).fill(0), u16(w, h), u32(0x480000, 0x480000, 0), u16(1), new Array(32).fill(0), u16(24, 0xffff), box("avcC", settings));
    const stbl = box("stbl", box("stsd", u32(0, 1), avc1), box("stts", u32(0, steps.length, ...steps.flatMap((s) => [1, s]))), box("stss", u32(0, keys.length, ...keys)), box("stsc", u32(0, 1, 1, 1, 1)), box("stsz", u32(0, 0, chunks.length, ...chunks.map((k) => k.data.length))), box("stco", u32(0, places.length, ...places)));
    const minf = box("minf", box("vmhd", u32(1, 0, 0)), box("dinf", box("dref", u32(0, 1), box("url ", u32(1)))), stbl);
    const mdia = box("mdia", box("mdhd", u32(0, 0, 0, scale, length), u16(0x55c4, 0)), box("hdlr", u32(0, 0), [..."vide"].map((x) => x.charCodeAt(0)), u32(0, 0, 0), [0]), minf);
    const trak = box("trak", box("tkhd", u32(7, 0, 0, 1, 0, length, 0, 0, 0, 0), matrix, u32(w * 65536, h * 65536)), mdia);
    return box("moov", box("mvhd", u32(0, 0, 0, scale, length, 65536), u16(256, 0), u32(0, 0), unit, u32(0, 0, 0, 0, 0, 0, 2)), trak);
  };
  const head = moov(0).length + ftyp.length + 8;
  const total = chunks.reduce((s, k) => s + k.data.length, 8);
  const mdat = new Uint8Array(8);
  new DataView(mdat.buffer).setUint32(0, total);
  [..."mdat"].forEach((x, i) => (mdat[4 + i] = x.charCodeAt(0)));
  return new File([ftyp, moov(head), mdat, ...chunks.map((k) => k.data)], "clip.mp4", { type: "video/mp4" });
}
