// The tracker's parts alone: colour, marks, camera.
import { test } from "node:test";
import assert from "node:assert/strict";
import { findBlob, findSpots, learnDot } from "../../assets/js/clip/colour.js";
import { findMark, fromFirst, learnMark, similarity, steadyPatches, toFirst } from "../../assets/js/clip/marks.js";
import { PlanePicture, RgbaPicture } from "../../assets/js/clip/picture.js";
import { roomAngleOfA, solve, solveCamera, wheelPlane } from "../../assets/js/clip/camera.js";
import { Scene, random } from "./scene.mjs";

test("a dot's centre is found to a tenth of a pixel wherever it lies", () => {
  const scene = new Scene({ noise: 6 });
  for (const deg of [0, 17, 45, 91, 133, 200, 288, 341]) {
    const p = scene.picture(deg);
    const at = scene.place(0, deg);
    const learned = learnDot(p, { x: at.x + 3, y: at.y - 2 });
    assert.ok(learned, `${deg}°`);
    assert.ok(Math.hypot(learned.blob.x - at.x, learned.blob.y - at.y) < 0.1, `${deg}°: ${learned.blob.x - at.x} ${learned.blob.y - at.y}`);
    // A disc of 12 mm seen from 420 mm at this focal length, pixels².
    const area = (Math.PI / 4) * ((12 * scene.focal) / scene.distance_mm) ** 2;
    assert.ok(Math.abs(learned.blob.area / area - 1) < 0.15, `${learned.blob.area} of ${area}`);
  }
});

test("half the light changes a dot's chroma by little: it is still found, at the same place", () => {
  const scene = new Scene({ noise: 2 });
  const { colour, blob } = learnDot(scene.picture(40), scene.place(0, 40));
  for (const light of [0.5, 0.7, 1.2]) {
    const p = scene.picture(40, { light });
    const b = findBlob(p, colour, { x0: blob.x - 25, y0: blob.y - 25, x1: blob.x + 25, y1: blob.y + 25 }, blob);
    assert.ok(b && Math.hypot(b.x - blob.x, b.y - blob.y) < 0.15 && Math.abs(b.area / blob.area - 1) < 0.18, `light ${light}: ${JSON.stringify(b)}`);
  }
});

test("a tap on the bare wheel, or a dot of the wheel's own colour, learns nothing", () => {
  const scene = new Scene({ dots: [{ r_mm: 68, at_deg: 0, size_mm: 12, rgb: [140, 138, 133] }] });
  assert.equal(learnDot(scene.picture(0), scene.place(0, 0)), null);
  assert.equal(learnDot(scene.picture(0), scene.project([40, -40])), null);
});

test("round spots are found, long and square-cornered ones are not dots", () => {
  const scene = new Scene();
  const p = scene.picture(30);
  const places = findSpots(p);
  for (const k of [0, 1]) assert.ok(places.some((s) => Math.hypot(s.x - scene.place(k, 30).x, s.y - scene.place(k, 30).y) < 1.5));
  assert.equal(places.length, 2);
  for (let y = 20; y < 26; y++) for (let x = 20; x < 90; x++) p.data.set([200, 30, 30], 4 * (y * p.width + x));
  assert.equal(findSpots(p).length, 2);
});

test("a mark shifted by a part of a pixel is found to a twentieth", () => {
  // The pattern is a smooth function, sampled anew at each shift: no resampling error in the truth.
  const [w, h] = [120, 100];
  const draw = (sx, sy) => {
    const d = new Uint8ClampedArray(4 * w * h);
    for (let y = 0, k = 0; y < h; y++)
      for (let x = 0; x < w; x++, k += 4) {
        const [a, b] = [x - sx - 60, y - sy - 50];
        const g = 128 + 90 * Math.tanh(a / 2) * Math.tanh(b / 2) * Math.exp(-(a * a + b * b) / 800);
        d.set([g, g, g, 255], k);
      }
    return new RgbaPicture(d, w, h);
  };
  const mark = learnMark(draw(0, 0), { x: 60, y: 50 });
  for (const [sx, sy] of [[0.3, 0], [2.5, -1.25], [-4.4, 3.8], [7.7, 6.1]]) {
    const s = findMark(draw(sx, sy), mark, { x: 60, y: 50 }, 10);
    assert.ok(s.ok && Math.hypot(s.x - 60 - sx, s.y - 50 - sy) < 0.05, `${sx} ${sy}: ${s.x - 60} ${s.y - 50}`);
  }
  assert.equal(findMark(draw(30, 0), mark, { x: 60, y: 50 }, 6).ok, false);
  assert.equal(learnMark(draw(0, 0), { x: 3, y: 50 }), null, "the patch leaves the picture");
});

test("two marks give the similarity back, and it undoes itself", () => {
  const [c, s, scale] = [Math.cos(0.1), Math.sin(0.1), 1.03];
  const move = (p) => ({ x: scale * (c * p.x - s * p.y) + 7, y: scale * (s * p.x + c * p.y) - 3 });
  const first = [{ x: 100, y: 200 }, { x: 700, y: 210 }];
  const map = similarity([move(first[0]), move(first[1])], first);
  for (const p of [{ x: 0, y: 0 }, { x: 480, y: 270 }, { x: -30, y: 999 }]) {
    const back = toFirst(map, move(p));
    const there = fromFirst(map, p);
    assert.ok(Math.hypot(back.x - p.x, back.y - p.y) < 1e-9 && Math.hypot(there.x - move(p).x, there.y - move(p).y) < 1e-9);
  }
});

test("patches to hold on to lie off the wheel and apart", () => {
  const scene = new Scene();
  const clear = 110;
  const marks = steadyPatches(scene.picture(0), scene.centre, clear);
  assert.equal(marks.length, 2);
  for (const m of marks) assert.ok(Math.hypot(m.x - scene.centre.x, m.y - scene.centre.y) > clear - 1);
});

/** Steps as a perfect tracker would give them, with Gaussian scatter. */
function steps(scene, angles, sd, seed) {
  const r = random(seed);
  const noise = () => sd * Math.sqrt(-2 * Math.log(1 - r())) * Math.cos(2 * Math.PI * r());
  return angles.map((deg, i) => ({ time_s: i / 30, toFirst: { ar: 1, ai: 0, bx: 0, by: 0 }, marksSeen: 2, dots: scene.dots.map((_, k) => ({ ok: true, why: null, share: 1, x: scene.place(k, deg).x + noise(), y: scene.place(k, deg).y + noise() })) }));
}

const swing = Array.from({ length: 240 }, (_, i) => 70 * Math.cos(i / 30));

test("the camera's tilt is found from the dots' paths, for every side it may stand on", () => {
  for (const [yaw, pitch] of [[0, 0], [8, 5], [-8, 5], [12, -10], [-15, -4]]) {
    const scene = new Scene({ yaw_deg: yaw, pitch_deg: pitch });
    const s = solveCamera({ steps: steps(scene, swing, 0.15, 3), size: scene, centre: { x: scene.centre.x + 3, y: scene.centre.y - 2 }, centreSd_px: 5, level: null });
    // The angle between the plane's normal and the line of sight to the centre, from the scene's own vectors.
    const truth = (Math.acos(Math.abs(scene.n.reduce((a, v, k) => a + v * scene.C[k], 0)) / Math.hypot(...scene.C)) * 180) / Math.PI;
    assert.ok(Math.abs(s.tilt_deg - truth) < 2, `${yaw} ${pitch}: ${s.tilt_deg}° of ${truth}°`);
    assert.ok(Math.hypot(s.camera.centre.x - scene.centre.x, s.camera.centre.y - scene.centre.y) < 2);
    assert.ok(Math.abs((s.between * 180) / Math.PI - 178) < 0.5);
  }
});

test("what all angles may be off by is stated wide enough, for any camera, lens, tap and arc", () => {
  for (const dots of [2, 1]) {
    let [bias, shape, worst] = [0, 0, 0];
    const cases = 60;
    for (let seed = 0; seed < cases; seed++) {
      const r = random(seed * 7919 + dots);
      for (let i = 0; i < 5; i++) r();
      const g = () => Math.sqrt(-2 * Math.log(1 - r())) * Math.cos(2 * Math.PI * r());
      const scene = new Scene({ width: 960, height: 540, yaw_deg: 7 * g(), pitch_deg: 7 * g(), focal_share: 0.65 + 0.35 * r(), offset: [20 * g(), 10 * g()], dots: [{ r_mm: 68, at_deg: 0 }, { r_mm: 66, at_deg: 150 + 50 * r() }].slice(0, dots) });
      const [rest, amplitude, sd] = [360 * r(), 20 + 80 * r(), 0.1 + 0.3 * r()];
      const angles = Array.from({ length: 240 }, (_, i) => rest + amplitude * Math.cos(i / 20));
      const s = steps(scene, angles, sd, seed + 1);
      const level = scene.level_mm.map((m) => scene.project(m)).map(({ x, y }) => ({ x: x + 0.3 * g(), y: y + 0.3 * g() }));
      const out = solveCamera({ steps: s, size: scene, centre: { x: scene.centre.x + 3 * g(), y: scene.centre.y + 3 * g() }, centreSd_px: 5, level });
      const off = s.flatMap((step, i) => {
        const a = roomAngleOfA(out, step);
        return a ? [((((a.rad * 180) / Math.PI - angles[i]) % 360) + 540) % 360 - 180] : [];
      });
      const mean = off.reduce((a, b) => a + b, 0) / off.length;
      const scatter = (sd / 130) * (180 / Math.PI) * (dots === 2 ? Math.SQRT1_2 : 1);
      const bend = Math.sqrt(Math.max(0, off.reduce((a, b) => a + (b - mean) ** 2, 0) / off.length - scatter ** 2));
      bias += Math.abs(mean) < 1.96 * out.common_sd_deg;
      shape += bend < 1.96 * out.bend_sd_deg;
      worst = Math.max(worst, Math.abs(mean) / out.common_sd_deg);
    }
    // Binomial: of 60 with 95 % each, 51 or fewer come by chance in one run of 200.
    assert.ok(bias > 51 && shape > 51 && worst < 5, `${dots} dots: ${bias} and ${shape} of ${cases}, worst ${worst} sd`);
  }
});

test("places on the wheel's plane go to the picture and back", () => {
  const plane = wheelPlane({ centre: { x: 300, y: 200 }, tilt: [0.2, -0.1], middle: { x: 320, y: 180 }, focal: 500, level: [{ x: 100, y: 250 }, { x: 540, y: 240 }] });
  for (const v of [[0, 0], [80, 10], [-60, 70], [5, -90]]) {
    const back = plane.at(plane.back(v));
    assert.ok(Math.hypot(back[0] - v[0], back[1] - v[1]) < 1e-9, String(v));
  }
});

test("wrong dots among the pictures do not bend the camera", () => {
  const scene = new Scene({ yaw_deg: 9, pitch_deg: 4 });
  const s = steps(scene, swing, 0.15, 8);
  for (let i = 0; i < s.length; i += 12) s[i].dots[0] = { ...s[i].dots[0], x: s[i].dots[0].x + 25 };
  const out = solveCamera({ steps: s, size: scene, centre: scene.centre, centreSd_px: 5, level: null });
  assert.ok(Math.hypot(out.camera.centre.x - scene.centre.x, out.camera.centre.y - scene.centre.y) < 1.5);
  assert.ok(out.sd_px < 0.5);
});

test("planes of a decoder and pixels of a canvas are seen alike, turned or not", () => {
  const [w, h] = [64, 48];
  const planes = { data: new Uint8Array(w * h * 1.5), width: w, height: h, format: "I420", layout: [{ offset: 0, stride: w }, { offset: w * h, stride: w / 2 }, { offset: w * h * 1.25, stride: w / 2 }] };
  const rgba = new Uint8ClampedArray(4 * w * h);
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++) {
      const [Y, u, v] = [90 + x, 118 + 2 * (x >> 3), 136 - 2 * (y >> 3)];
      planes.data[y * w + x] = Y;
      planes.data[w * h + (y >> 1) * (w / 2) + (x >> 1)] = u;
      planes.data[w * h * 1.25 + (y >> 1) * (w / 2) + (x >> 1)] = v;
      // ITU-R BT.601, video levels.
      const l = 1.164 * (Y - 16);
      rgba.set([l + 1.596 * (v - 128), l - 0.392 * (u - 128) - 0.813 * (v - 128), l + 2.018 * (u - 128), 255], 4 * (y * w + x));
    }
  const canvas = new RgbaPicture(rgba, w, h);
  const seen = (p, x, y) => {
    const win = p.chroma(x, y, x, y, 1);
    return [win.u[0], win.v[0]];
  };
  const luma = new Float32Array(1);
  for (const turn of [0, 90, 180, 270]) {
    const p = new PlanePicture(planes, turn);
    assert.deepEqual([p.width, p.height], turn % 180 ? [h, w] : [w, h]);
    for (const [sx, sy] of [[5, 7], [40, 30], [63, 47], [0, 0]]) {
      // Where stored (sx, sy) stands after the clockwise turn.
      const [x, y] = { 0: [sx, sy], 90: [h - 1 - sy, sx], 180: [w - 1 - sx, h - 1 - sy], 270: [sy, w - 1 - sx] }[turn];
      const [a, b] = [seen(p, x, y), seen(canvas, sx, sy)];
      assert.ok(Math.abs(a[0] - b[0]) < 0.02 && Math.abs(a[1] - b[1]) < 0.02, `${turn}: ${a} ${b}`);
      assert.ok(p.luma(x, y, 1, 1, 1, luma));
      assert.equal(luma[0], 90 + sx);
    }
  }
});

test("the solver solves, and says when it can't", () => {
  const x = solve([[0, 2, 1], [1, 1, 1], [2, 0, 3]], [7, 6, 11]);
  [1, 2, 3].forEach((v, i) => assert.ok(Math.abs(x[i] - v) < 1e-12));
  assert.equal(solve([[1, 2], [2, 4]], [1, 2]), null);
});
