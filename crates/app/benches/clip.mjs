// Speed of the tracker at 1280 × 720 with two dots and two marks: node crates/app/benches/clip.mjs
import { learnDot } from "../assets/js/clip/colour.js";
import { learnMark } from "../assets/js/clip/marks.js";
import { PlanePicture } from "../assets/js/clip/picture.js";
import { solveCamera } from "../assets/js/clip/camera.js";
import { Tracker } from "../assets/js/clip/track.js";
import { Scene } from "../tests/js/scene.mjs";

const scene = new Scene({ width: 1280, height: 720, yaw_deg: 8, pitch_deg: -5 });
const phi = (i) => 20 + 70 * Math.cos((2 * Math.PI * i) / 240);
/** As a decoder gives it: planes of brightness and chroma. */
function planes(p) {
  const [w, h] = [p.width, p.height];
  const data = new Uint8Array(w * h * 1.5);
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++) {
      const [r, g, b] = [0, 1, 2].map((c) => p.data[4 * (y * w + x) + c]);
      data[y * w + x] = 16 + 0.257 * r + 0.504 * g + 0.098 * b;
      if (x % 2 || y % 2) continue;
      data[w * h + (y / 2) * (w / 2) + x / 2] = 128 - 0.148 * r - 0.291 * g + 0.439 * b;
      data[w * h * 1.25 + (y / 2) * (w / 2) + x / 2] = 128 + 0.439 * r - 0.368 * g - 0.071 * b;
    }
  return new PlanePicture({ data, width: w, height: h, format: "I420", layout: [{ offset: 0, stride: w }, { offset: w * h, stride: w / 2 }, { offset: w * h * 1.25, stride: w / 2 }] }, 0);
}
const shakes = Array.from({ length: 60 }, (_, i) => [Math.round(5 * Math.sin(i)), Math.round(4 * Math.cos(1.7 * i))]);
const pictures = shakes.map((shift, i) => planes(scene.picture(phi(i), { shift: i ? shift : [0, 0] })));
const dots = ["A", "B"].map((name, k) => {
  const { colour, blob } = learnDot(pictures[0], scene.place(k, phi(0)));
  return { name, colour, area: blob.area, at: blob };
});
const marks = scene.level_mm.map((m) => learnMark(pictures[0], scene.project(m)));
const steps = [];
let spent = 0;
for (let round = 0; round < 5; round++) {
  const tracker = new Tracker({ dots, centre: scene.centre, marks });
  pictures.forEach((p, i) => {
    const begun = performance.now();
    const step = tracker.next(p, i / 30);
    // The first round warms the engine up.
    if (round) spent += performance.now() - begun;
    if (round === 4) steps.push(step);
  });
}
const each = spent / (4 * pictures.length);
const seen = steps.filter((s) => s.dots.every((d) => d.ok) && s.marksSeen === 2).length;
const begun = performance.now();
const long = Array.from({ length: 400 }, (_, i) => ({ ...steps[i % steps.length], time_s: i / 30 }));
solveCamera({ steps: long, size: scene, centre: scene.centre, centreSd_px: 5, level: [marks[0], marks[1]] });
console.log(`tracker, 1280 × 720, two dots, two marks: ${each.toFixed(2)} ms a picture, ${(1000 / each).toFixed(0)} a second; both dots and marks seen in ${seen} of ${steps.length}`);
console.log(`camera from 400 pictures: ${(performance.now() - begun).toFixed(0)} ms`);
if (!(1000 / each >= 60) || seen < 0.95 * steps.length) process.exitCode = 1;
