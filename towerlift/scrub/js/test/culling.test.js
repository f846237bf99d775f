// What is left out of a picture is nothing that it would have shown.

import assert from "node:assert/strict";
import test from "node:test";
import { Parts, STRIDE, runsSeen } from "../src/culling.js";
import { from, matrices } from "../src/standpoint.js";

const SOUTH = { focus: [0, 0, 10], span: 20, azimuth: Math.PI, rise: 0, cut: null };
const UPRIGHT = [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1];
const FRONTS = { backs: false, slack: 0 };

/** Chunks of ten triangles each. @param {number[][]} rows */
const chunksOf = (rows) => ({
  boxes: new Float32Array(rows.flat()),
  firsts: new Uint32Array([...rows.keys(), rows.length].map((n) => 10 * n)),
});
/** A chunk that faces every way. @param {number[]} middle @param {number} half */
const round = (middle, half) => [...middle, half, half, half, 0, 0, 0, -1];

test("chunks outside the picture are left out, to the width of their boxes", () => {
  const chunks = chunksOf([round([0, 0, 10], 1), round([10.9, 0, 10], 1), round([11.1, 0, 10], 1),
    round([0, 0, 20.9], 1), round([0, 0, -1.1], 1)]);
  assert.deepEqual(runsSeen(chunks, UPRIGHT, SOUTH, 1, FRONTS), [0, 20, 30, 40]);
  assert.deepEqual(runsSeen(chunks, UPRIGHT, SOUTH, 2, FRONTS), [0, 40]);
});

test("a few triangles are drawn for nothing to make one run of two", () => {
  const chunks = chunksOf([round([0, 0, 10], 1), round([50, 0, 10], 1), round([0, 0, 12], 1)]);
  assert.deepEqual(runsSeen(chunks, UPRIGHT, SOUTH, 1, { backs: false, slack: 9 }), [0, 10, 20, 30]);
  assert.deepEqual(runsSeen(chunks, UPRIGHT, SOUTH, 1, { backs: false, slack: 10 }), [0, 30]);
});

test("what faces away is left out, and what is cut off, unless backs are seen", () => {
  const [north, south] = [[0, 1, 0, 0.1], [0, -1, 0, 0.1]];
  const chunks = chunksOf([[0, 0, 10, 1, 1, 1, ...north], [0, 0, 10, 1, 1, 1, ...south], [0, -3, 10, 1, 1, 1, ...south]]);
  assert.deepEqual(runsSeen(chunks, UPRIGHT, SOUTH, 1, FRONTS), [10, 30]);
  assert.deepEqual(runsSeen(chunks, UPRIGHT, { ...SOUTH, cut: 0 }, 1, FRONTS), [10, 20]);
  assert.deepEqual(runsSeen(chunks, UPRIGHT, { ...SOUTH, cut: 0 }, 1, { backs: true, slack: 0 }), [0, 20]);
});

test("a body is taken where it stands: turned by half a turn, its north side faces south", () => {
  const turned = [-1, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 0, 0, 0, 10, 1];
  const chunks = chunksOf([[0, 0, 0, 1, 1, 1, 0, 1, 0, 0.1], [0, 0, 11.1, 1, 1, 1, 0, 1, 0, 0.1]]);
  assert.deepEqual(runsSeen(chunks, turned, SOUTH, 1, FRONTS), [0, 10]);
});

/** Numbers that look drawn by lot, the same each time. @param {number} seed */
function lot(seed) {
  let state = seed;
  return () => {
    state = (1664525 * state + 1013904223) % 4294967296;
    return state / 4294967296;
  };
}

for (const [name, at] of Object.entries({ level: SOUTH, cut: { ...SOUTH, azimuth: 1, rise: 0.4, cut: 0.5 },
  person: from([9, -7, 1.6], [0, 0, 12]) })) {
  test(`no triangle that faces the viewer within the picture is left out: ${name}`, () => {
    const chance = lot(7);
    let n = 0;
    for (let k = 0; k < 3000; k++) {
      const middle = [0, 1, 2].map(() => 24 * chance() - 12 + at.focus[2] / 3);
      const [a, b, c] = [0, 1, 2].map(() => middle.map((v) => v + 3 * chance() - 1.5));
      const cross = normal(a, b, c);
      const low = [0, 1, 2].map((i) => Math.min(a[i], b[i], c[i]));
      const high = [0, 1, 2].map((i) => Math.max(a[i], b[i], c[i]));
      const row = [...low.map((v, i) => (v + high[i]) / 2), ...low.map((v, i) => (high[i] - v) / 2 + 1e-4), ...cross, 1e-3];
      assert.equal(row.length, STRIDE);
      if (!shows(at, [a, b, c])) continue;
      n += 1;
      assert.deepEqual(runsSeen(chunksOf([row]), UPRIGHT, at, 1.5, FRONTS), [0, 10]);
    }
    assert.ok(n > 100);
  });
}

/** @param {number[]} a @param {number[]} b @param {number[]} c */
function normal(a, b, c) {
  const [u, v] = [b.map((x, i) => x - a[i]), c.map((x, i) => x - a[i])];
  const n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
  return n.map((x) => x / Math.hypot(...n));
}

/** Whether a corner lies in the picture and the corners go round as those of a front do.
 * @param {any} at @param {number[][]} corners */
function shows(at, corners) {
  const { view, projection } = matrices(at, 300, 200);
  const times = (/** @type {number[]} */ m, /** @type {number[]} */ v) =>
    [0, 1, 2, 3].map((k) => m[k] * v[0] + m[4 + k] * v[1] + m[8 + k] * v[2] + m[12 + k] * v[3]);
  const clips = corners.map((corner) => times(projection, times(view, [...corner, 1])));
  if (!clips.some(([x, y, z, w]) => w > 0 && Math.max(Math.abs(x), Math.abs(y), Math.abs(z)) < w)) return false;
  if (clips.some((clip) => clip[3] <= 0)) return false;
  const [p, q, r] = clips.map(([x, y, , w]) => [x / w, y / w]);
  return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]) > 0;
}

test("a chunk seen in parts gives all of its triangles that reach into the picture, and few more", () => {
  // A hundred triangles in a row of ten metres, on a grid of a millimetre and a half or so.
  const [low, size] = [[-5, -1, 9], [10, 2, 2]];
  const grid = (/** @type {number} */ value, /** @type {number} */ axis) => Math.round((65535 * (value - low[axis])) / size[axis]);
  const corners = Array.from({ length: 100 }, (_, n) => [[0, 0], [0.09, 0], [0, 0.5]]
    .map(([x, z]) => [-5 + 0.1 * n + x, 0, 10 + z])).flat();
  const places = new Uint16Array(corners.flatMap((corner) => corner.map(grid)));
  const faces = new Uint16Array(corners.keys());
  const whole = { boxes: new Float32Array([0, 0, 10, 5, 1, 1, 0, -1, 0, 0.2]), firsts: new Uint32Array([0, 100]) };
  const parts = new Parts(whole, faces, places, low, size);
  // 0.6 m wide round x = 1: triangles 57 to 62 and their neighbours' parts.
  const near = { ...SOUTH, focus: [1, 0, 10.2], span: 0.6 };
  assert.deepEqual(runsSeen(whole, UPRIGHT, near, 1, { ...FRONTS, parts }), [48, 64]);
  assert.deepEqual(runsSeen(whole, UPRIGHT, near, 1, FRONTS), [0, 100]);
  // The last part has four triangles only.
  assert.deepEqual(runsSeen(whole, UPRIGHT, { ...near, focus: [4.9, 0, 10.2] }, 1, { ...FRONTS, parts }), [96, 100]);
  // Between two parts both are drawn, as one run; from behind neither is.
  const between = { ...near, focus: [1.4, 0, 10.2] };
  assert.deepEqual(runsSeen(whole, UPRIGHT, between, 1, { ...FRONTS, parts }), [48, 80]);
  assert.deepEqual(runsSeen(whole, UPRIGHT, { ...between, azimuth: 0 }, 1, { ...FRONTS, parts }), []);
});
