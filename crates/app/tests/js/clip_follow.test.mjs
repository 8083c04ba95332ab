import { test } from "node:test";
import assert from "node:assert/strict";
import { evaluate, follow, lookOver } from "../../assets/js/clip/follow.js";
import { ClipFault } from "../../assets/js/clip/messages.js";
import { Scene, clipOf, judge, random } from "./scene.mjs";

const times = Array.from({ length: 150 }, (_, i) => i / 15);
/** A swing of 70° and 8 s about a rest place at 20°. */
const phi = (t) => 20 + 70 * Math.cos((2 * Math.PI * t) / 8);

async function run(clip, about = {}, change = (s) => s) {
  const found = await lookOver(clip, { to_s: clip.duration_s });
  const names = ["A", "B"];
  const setup = change({ dots: found.dots.map((d, k) => ({ name: names[k], ...d })), centre: found.centre, centreFound: true, marks: found.marks, from_s: 0, to_s: clip.duration_s });
  const followed = await follow(clip, setup);
  return { found, setup, followed, ...evaluate(clip, setup, followed, { mirrored: false, between_deg: null, ...about }) };
}

/** Whichever dot was called A: the log against the truth of that dot. */
function against(scene, out, truth = phi) {
  const red = out.setup.dots[0];
  const k = scene.dots.findIndex((_, i) => Math.hypot(scene.place(i, truth(red.time_s)).x - red.at.x, scene.place(i, truth(red.time_s)).y - red.at.y) < 8);
  assert.ok(k >= 0, "the dot called A is one of the dots");
  return judge(out.log, (t) => truth(t) + scene.dots[k].at_deg);
}

const marksOf = (scene) => scene.level_mm.map((m) => scene.project(m));

test("a clip from 12° aside gives angles within 0.3° with scatter below 0.4°", async () => {
  const scene = new Scene({ yaw_deg: 10, pitch_deg: -7 });
  const out = await run(clipOf(scene, times, phi), {}, (s) => ({ ...s, marks: marksOf(scene) }));
  const { bias, sd, n } = against(scene, out);
  assert.equal(n, times.length);
  assert.ok(Math.abs(bias) < 0.3 && sd < 0.4, `bias ${bias}°, sd ${sd}°`);
  assert.ok(Math.abs(bias) < 3 * out.log.common_sd_deg, `bias ${bias}° against a stated ${out.log.common_sd_deg}°`);
});

/** A centre tapped as a finger with a loupe does: a pixel or two off. */
const tapped = (scene) => ({ centre: { x: scene.centre.x + 1.5, y: scene.centre.y - 1 }, centreFound: false });

test("one dot is enough once the centre is tapped and the marks tell what is level", async () => {
  const scene = new Scene({ yaw_deg: -8, pitch_deg: 5, dots: [{ r_mm: 68, at_deg: 0, size_mm: 12, rgb: [205, 45, 50] }] });
  const out = await run(clipOf(scene, times, phi), {}, (s) => ({ ...s, ...tapped(scene), marks: marksOf(scene) }));
  const { bias, sd } = against(scene, out);
  assert.ok(Math.abs(bias) < 0.3 && sd < 0.4, `bias ${bias}°, sd ${sd}°`);
  assert.ok(out.log.once_a_turn_sd_deg > 0 && out.log.twice_a_turn_sd_deg === 0);
});

test("one dot with a centre that was only found says how unsure it is", async () => {
  // From 140° of an ellipse the camera may stand left or right: the angles are off by more than a degree, and told so.
  const scene = new Scene({ yaw_deg: -8, pitch_deg: 5, dots: [{ r_mm: 68, at_deg: 0, size_mm: 12, rgb: [205, 45, 50] }] });
  const out = await run(clipOf(scene, times, phi), {}, (s) => ({ ...s, marks: marksOf(scene) }));
  const { bias, sd } = against(scene, out);
  assert.ok(sd < 2 * out.log.once_a_turn_sd_deg, `sd ${sd}° against a stated ${out.log.once_a_turn_sd_deg}°`);
  assert.ok(Math.abs(bias) < 2 * Math.hypot(out.log.common_sd_deg, out.log.once_a_turn_sd_deg));
  assert.ok(out.remarks.some((m) => m.code === "one-dot"));
});

test("a hand that shakes the phone is taken out by two marks, and told where there are none", async () => {
  const scene = new Scene({ yaw_deg: 6 });
  const r = random(9);
  const walk = new Map();
  let [x, y] = [0, 0];
  for (const t of times) walk.set(t, [(x = Math.max(-9, Math.min(9, x + Math.round(3 * (r() - 0.5) * 2)))), (y = Math.max(-9, Math.min(9, y + Math.round(3 * (r() - 0.5) * 2))))]);
  walk.set(0, [0, 0]);
  const clip = clipOf(scene, times, phi, (t) => ({ shift: walk.get(t) }));
  const out = await run(clip, {}, (s) => ({ ...s, marks: marksOf(scene), centre: scene.centre }));
  const { bias, sd } = against(scene, out);
  assert.ok(Math.abs(bias) < 0.3 && sd < 0.4, `bias ${bias}°, sd ${sd}°`);
  const bare = await run(clip, {}, (s) => ({ ...s, marks: [], centre: scene.centre }));
  assert.ok(bare.remarks.some((m) => m.code === "phone-moved"), JSON.stringify(bare.remarks.map((m) => m.code)));
  // What is said to be uncertain holds the truth.
  assert.ok(bare.log.common_sd_deg > out.log.common_sd_deg && bare.log.twice_a_turn_sd_deg > out.log.twice_a_turn_sd_deg);
  const off = against(scene, bare);
  assert.ok(Math.abs(off.bias) < 2 * bare.log.common_sd_deg, `bias ${off.bias}° against ± ${bare.log.common_sd_deg}°`);
  const turning = Math.hypot(bare.log.common_sd_deg, bare.log.twice_a_turn_sd_deg, bare.log.sd_deg[0]);
  assert.ok(off.sd < 2 * turning, `sd ${off.sd}° against ± ${turning}°`);
});

test("a phone that moves far without marks is refused, and one that is only passed by is not", async () => {
  const scene = new Scene({ yaw_deg: 6 });
  const noMarks = (s) => ({ ...s, marks: [], centre: scene.centre });
  // Lowered slowly by 60 pixels: the background leaves the place where it is sought.
  const lowered = clipOf(scene, times, phi, (t) => ({ shift: [0, Math.round(6 * t)] }));
  await assert.rejects(run(lowered, {}, noMarks), (e) => e instanceof ClipFault && e.code === "phone-moved-far");
  const still = await run(clipOf(scene, times, phi), {}, noMarks);
  assert.ok(still.remarks.every((m) => m.code === "no-level"), JSON.stringify(still.remarks));
});

test("flicker, noise, uneven times and dropped pictures leave the angles true", async () => {
  const scene = new Scene({ yaw_deg: 5, noise: 14, seed: 3 });
  const r = random(5);
  const odd = times.map((t) => t + 0.02 * r()).filter((_, i) => i % 7 !== 3 && (i < 60 || i > 75));
  const out = await run(clipOf(scene, odd, phi, (t) => ({ light: 0.8 + 0.2 * Math.sin(31 * t) })), {}, (s) => ({ ...s, marks: marksOf(scene) }));
  const { bias, sd, n } = against(scene, out);
  assert.ok(n > 0.95 * odd.length);
  assert.ok(Math.abs(bias) < 0.3 && sd < 0.4, `bias ${bias}°, sd ${sd}°`);
});

test("dots smeared by a slow shutter give the angle of its middle", async () => {
  // A thirtieth of a second open: at the fastest passage 1.8°, a sixth of a dot.
  const scene = new Scene({ yaw_deg: 5 });
  const speed = (t) => -70 * ((2 * Math.PI) / 8) * Math.sin((2 * Math.PI * t) / 8);
  const out = await run(clipOf(scene, times, phi, (t) => ({ smear_deg: speed(t) / 30 })), {}, (s) => ({ ...s, marks: marksOf(scene) }));
  const { bias, sd, n } = against(scene, out);
  assert.ok(n > 0.95 * times.length, `${n} angles`);
  assert.ok(Math.abs(bias) < 0.3 && sd < 0.4, `bias ${bias}°, sd ${sd}°`);
});

test("a dot behind the rail gives no angle, and comes back", async () => {
  const scene = new Scene({ dots: [{ r_mm: 68, at_deg: 0, size_mm: 12, rgb: [205, 45, 50] }] });
  const low = scene.place(0, 20).y;
  const bar = { y0: Math.round(low - 12), y1: Math.round(low + 8) };
  const out = await run(clipOf(scene, times, phi, () => ({ bar })), {}, (s) => ({ ...s, centre: scene.centre, centreFound: false, marks: marksOf(scene) }));
  const { bias, sd, n } = against(scene, out);
  assert.ok(n < times.length - 20 && n > times.length / 3, `${n} angles`);
  assert.ok(Math.abs(bias) < 0.4 && sd < 0.4, `bias ${bias}°, sd ${sd}°`);
  const lost = out.followed.steps.filter((s) => !s.dots[0].ok).map((s) => s.dots[0].why);
  assert.ok(lost.includes("hidden"), lost.join());
});

test("a clip without a dot finds none, and following one that is not there is refused", async () => {
  const scene = new Scene();
  const clip = clipOf(scene, times, phi, () => ({ dots: false }));
  const found = await lookOver(clip, { to_s: clip.duration_s });
  assert.deepEqual(found.dots, []);
  const setup = { dots: [{ name: "A", at: scene.place(0, phi(0)), time_s: 0 }], centre: scene.centre, marks: [], from_s: 0, to_s: 1 };
  await assert.rejects(follow(clip, setup), (e) => e instanceof ClipFault && e.code === "dot-like-wheel");
  await assert.rejects(follow(clip, { ...setup, dots: [] }), (e) => e instanceof ClipFault && e.code === "no-dot");
});

test("a dot that goes away for good is lost with its time, and too few angles are refused", async () => {
  const scene = new Scene();
  const clip = clipOf(scene, times, phi, (t) => ({ dots: t < 1 }));
  const setup = { dots: [{ name: "A", at: scene.place(0, phi(0)), time_s: 0 }], centre: scene.centre, marks: [], from_s: 0, to_s: 10 };
  const followed = await follow(clip, setup);
  assert.throws(() => evaluate(clip, setup, followed, { mirrored: false, between_deg: null }), (e) => e instanceof ClipFault && e.code === "too-short");
  const later = clipOf(scene, times, phi, (t) => ({ dots: t < 5 }));
  const out = evaluate(later, setup, await follow(later, setup), { mirrored: false, between_deg: null });
  const lost = out.remarks.find((m) => m.code === "dot-lost");
  assert.match(lost?.say ?? "", /Dot A lost from (4\.9|5\.0) s to 9\.9 s/);
});

test("a dot put right by hand is followed from there", async () => {
  // Two dots of one colour: the tracker can only know by place which is which.
  const same = [205, 45, 50];
  const scene = new Scene({ dots: [{ r_mm: 68, at_deg: 0, size_mm: 12, rgb: same }, { r_mm: 66, at_deg: 120, size_mm: 12, rgb: same }] });
  const clip = clipOf(scene, times, phi);
  const setup = { dots: [{ name: "A", at: scene.place(1, phi(0)), time_s: 0 }], centre: scene.centre, marks: [], from_s: 0, to_s: 10, corrections: [{ name: "A", at: scene.place(0, phi(times[30])), time_s: times[30] }] };
  const { steps } = await follow(clip, setup);
  const near = (i, k) => Math.hypot(steps[i].dots[0].x - scene.place(k, phi(times[i])).x, steps[i].dots[0].y - scene.place(k, phi(times[i])).y) < 2;
  assert.ok(near(29, 1) && near(30, 0) && near(149, 0));
});

test("a mirrored clip is noticed from the places of both dots, and undone when it is said", async () => {
  const scene = new Scene({ dots: [{ r_mm: 68, at_deg: 0, size_mm: 12, rgb: [205, 45, 50] }, { r_mm: 66, at_deg: 130, size_mm: 12, rgb: [40, 85, 190] }] });
  const clip = clipOf(scene, times, phi);
  const setup = { dots: [{ name: "A", at: scene.place(0, phi(0)), time_s: 0 }, { name: "B", at: scene.place(1, phi(0)), time_s: 0 }], centre: scene.centre, marks: marksOf(scene), from_s: 0, to_s: 10 };
  const followed = await follow(clip, setup);
  const codes = (mirrored, between_deg) => evaluate(clip, setup, followed, { mirrored, between_deg }).remarks.map((m) => m.code);
  assert.deepEqual(codes(false, 130), []);
  assert.deepEqual(codes(false, -130), ["mirrored"]);
  assert.deepEqual(codes(true, -130), []);
  assert.deepEqual(codes(false, 70), ["places-differ"]);
  const { log } = evaluate(clip, setup, followed, { mirrored: true, between_deg: null });
  assert.ok(Math.abs(judge(log, (t) => -phi(t)).bias) < 0.3);
});

test("whole turns one way are followed through every place", async () => {
  const scene = new Scene({ yaw_deg: 7 });
  const turning = (t) => -100 * t;
  const out = await run(clipOf(scene, times, turning), {}, (s) => ({ ...s, marks: marksOf(scene) }));
  const { bias, sd, n } = against(scene, out, turning);
  assert.equal(n, times.length);
  assert.ok(Math.abs(bias) < 0.3 && sd < 0.4, `bias ${bias}°, sd ${sd}°`);
});

test("a camera far aside, a slow clip and a wheel that hardly moves are told", async () => {
  const far = new Scene({ yaw_deg: 27, pitch_deg: 5 });
  const out = await run(clipOf(far, times, phi), {}, (s) => ({ ...s, marks: marksOf(far), centre: far.centre }));
  assert.ok(out.remarks.some((m) => m.code === "far-off-axis"), `${out.solved.tilt_deg}°`);
  const still = new Scene();
  const slow = clipOf(still, Array.from({ length: 60 }, (_, i) => i / 6), (t) => 30 + 1.5 * Math.cos(t));
  const setup = { dots: [{ name: "A", at: still.place(0, 31.5), time_s: 0 }], centre: still.centre, marks: marksOf(still), from_s: 0, to_s: 10 };
  const codes = evaluate(slow, setup, await follow(slow, setup), { mirrored: false, between_deg: null }).remarks.map((m) => m.code);
  assert.ok(codes.includes("slow-frames") && codes.includes("hardly-moves"), codes.join());
});
