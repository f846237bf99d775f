// Ropes as they are handed to the graphics.

import assert from "node:assert/strict";
import test from "node:test";
import { Vector2 } from "three";
import { Ropes } from "../src/ropes.js";

test("every straight piece of every rope is a strip, and pieces of before are gone", () => {
  const ropes = new Ropes(5, new Vector2(1, 1));
  const { geometry } = ropes;
  const index = /** @type {import("three").BufferAttribute} */ (geometry.index);
  const corner = (/** @type {string} */ name, /** @type {number} */ k) => {
    const attribute = geometry.getAttribute(name);
    return [...attribute.array.slice(attribute.itemSize * k, attribute.itemSize * (k + 1))];
  };
  ropes.set([{ points: [[0, 0, 0], [0, 0, 8], [4, 0, 8]], radius: 0.25 }, { points: [[1, 1, 1], [2, 2, 2]], radius: 0.5 }]);
  assert.equal(geometry.drawRange.count, 18);
  for (let k = 4; k < 8; k++) {
    assert.deepEqual([corner("start", k), corner("stop", k), corner("radius", k)], [[0, 0, 8], [4, 0, 8], [0.25]]);
  }
  assert.deepEqual(corner("start", 8), [1, 1, 1]);
  // Both triangles of the second piece have its own corners, two at either end.
  const used = [...index.array.slice(6, 12)];
  assert.deepEqual([...new Set(used)].sort((a, b) => a - b), [4, 5, 6, 7]);
  assert.deepEqual([4, 5, 6, 7].map((k) => corner("position", k)), [[0, -1], [1, -1], [1, 1], [0, 1]]);
  ropes.set([{ points: [[5, 0, 0], [6, 0, 0]], radius: 0.125 }]);
  assert.equal(geometry.drawRange.count, 6);
  assert.deepEqual(corner("start", 3), [5, 0, 0]);
});
