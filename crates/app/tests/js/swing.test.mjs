import { test } from "node:test";
import assert from "node:assert/strict";
import { SHOWN_S, settling, swinging } from "../../assets/js/swing.js";

test("a settling wheel ends exactly at rest and starts aside", () => {
  assert.equal(settling(SHOWN_S, 123), 123);
  assert.equal(settling(SHOWN_S + 5, 123), 123);
  assert.ok(Math.abs(settling(0, 123) - 123) > 45);
});

test("a swing starts at its amplitude and never leaves it", () => {
  assert.equal(swinging(0, 10, 60, 20), 70);
  for (let t = 0; t < SHOWN_S; t += 0.05) assert.ok(Math.abs(swinging(t, 10, 60, 20) - 10) <= 60 + 1e-9);
});
