import { test } from "node:test";
import assert from "node:assert/strict";
import { judgeTaps, passages } from "../../assets/js/taps.js";

test("even taps give half swings and time, with nothing to say", () => {
  const j = judgeTaps([1, 6, 11.1, 16.05, 21]);
  assert.equal(j.halfSwings, 4);
  assert.ok(Math.abs(j.time_s - 20) < 1e-9);
  assert.deepEqual([j.uneven, j.lopsided, j.say], [false, false, ""]);
});

test("a missed tap is called uneven", () => {
  const j = judgeTaps([0, 5, 10, 20, 25]);
  assert.ok(j.uneven);
  assert.match(j.say, /Uneven/);
});

test("a late tap is called uneven, a thumb's scatter is not", () => {
  assert.ok(judgeTaps([0, 5, 10, 16.4, 20, 25]).uneven);
  assert.ok(!judgeTaps([0, 0.9, 2.0, 2.9, 4.0]).uneven);
});

test("a place off the middle makes the halves differ in turn: whole swings are asked for", () => {
  const odd = judgeTaps([0, 4, 10, 14]);
  assert.ok(odd.lopsided && !odd.uneven);
  assert.match(odd.say, /whole swings/);
  const even = judgeTaps([0, 4, 10, 14, 20]);
  assert.ok(even.lopsided);
  assert.equal(even.say, "");
});

test("one tap or none is no swing yet", () => {
  assert.equal(judgeTaps([]).halfSwings, 0);
  assert.equal(judgeTaps([3]).time_s, 0);
  assert.equal(judgeTaps([3, 8]).halfSwings, 1);
});

test("passages of two marks come in turn; a double tap and a missed one are told", () => {
  const good = passages([0, 1, 3, 4, 6, 7, 9, 10], [1, 2, 2, 1, 1, 2, 2, 1]);
  assert.deepEqual(good, { taps: 8, time_s: 10, say: "" });
  assert.match(passages([0, 1, 1.05, 4], [1, 2, 2, 1]).say, /take the last one back/);
  assert.match(passages([0, 1, 3, 6, 7], [1, 2, 2, 2, 1]).say, /missed/);
  assert.equal(passages([0, 3, 6, 9], [1, 1, 1, 1]).say, "");
  assert.equal(passages([], []).time_s, 0);
});
