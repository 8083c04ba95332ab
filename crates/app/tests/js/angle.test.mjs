import { test } from "node:test";
import assert from "node:assert/strict";
import { wrap360, wrap180, roomAngle, bottomAngle, clockText, readClock, angleText, readAngle, zeroMarkFromClock } from "../../assets/js/angle.js";

test("angles wrap into one turn", () => {
  for (const [deg, a, b] of [[0, 0, 0], [360, 0, 0], [-10, 350, -10], [190, 190, -170], [180, 180, 180], [730, 10, 10]]) {
    assert.equal(wrap360(deg), a);
    assert.equal(wrap180(deg), b);
  }
});

test("counter-clockwise from straight down: down, right, up, left", () => {
  for (const [dx, dy, deg] of [[0, 1, 0], [1, 0, 90], [0, -1, 180], [-1, 0, 270]]) assert.ok(Math.abs(wrap180(roomAngle(dx, dy) - deg)) < 1e-9);
});

test("the rotor angle at the bottom is minus the zero mark's room angle", () => {
  assert.equal(bottomAngle(0), 0);
  assert.equal(bottomAngle(90), 270);
});

test("a clock's face: three o'clock is to the right, six is down", () => {
  assert.equal(readClock("3"), 90);
  assert.equal(readClock("4:30"), 135);
  assert.equal(readClock("7,5"), 225);
  assert.equal(readClock("12"), 0);
  for (const bad of ["", "13", "3:60", "noon", "-1"]) assert.equal(readClock(bad), null);
  assert.equal(zeroMarkFromClock(90), 90);
  assert.equal(zeroMarkFromClock(180), 0);
  assert.equal(zeroMarkFromClock(0), 180);
});

test("an angle shown reads back the same in every style", () => {
  for (const style of ["ccw", "cw", "clock"])
    for (let deg = 0; deg < 360; deg += 0.5) {
      const back = readAngle(angleText(deg, style), style);
      assert.ok(back !== null && Math.abs(wrap180(back - deg)) < 1e-9, `${style} ${deg} ${angleText(deg, style)} ${back}`);
    }
});

test("text that is no angle is left to the server", () => {
  for (const bad of ["", "ten", "1e3", "4:30"]) assert.equal(readAngle(bad, "ccw"), null);
  assert.equal(readAngle("12,5°", "ccw"), 12.5);
});

test("clock text rolls over at twelve", () => {
  assert.equal(clockText(359.9), "12:00");
  assert.equal(clockText(0.5), "12:01");
  assert.equal(clockText(30), "1:00");
});
