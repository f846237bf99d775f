// Where prints are taken and laid, by hand.

import assert from "node:assert/strict";
import test from "node:test";
import { Print, clipped, movedBy, rectOf, through } from "../src/print.js";
import { matrices, pixel } from "../src/standpoint.js";

// Ten pixels to the metre; east lies right.
const SOUTH = { focus: [0, 0, 10], span: 20, azimuth: Math.PI, rise: 0, cut: null };
const ASKEW = { ...SOUTH, azimuth: 0.7, rise: 0.4 };
const [WIDTH, HEIGHT] = [400, 200];
/** @param {number[]} place */
const upright = (place) => [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, ...place, 1];
/** @param {number[]} m @param {number[]} v */
const times = (m, v) => [0, 1, 2, 3].map((k) => m[k] * v[0] + m[4 + k] * v[1] + m[8 + k] * v[2] + m[12 + k] * v[3]);
/** Depth in the picture, from 0 to 1. @param {typeof SOUTH} at @param {number[]} point */
const depth = (at, point) => {
  const { view, projection } = matrices(at, WIDTH, HEIGHT);
  return (times(projection, times(view, [...point, 1]))[2] + 1) / 2;
};

test("a box takes up its pixels and one more all round", () => {
  const rect = rectOf(upright([3, 0, 8]), [-1, -2, 0], [2, 4, 5], SOUTH, WIDTH, HEIGHT);
  assert.deepEqual(rect, { x: 219, y: 79, width: 22, height: 52 });
});

test("from askew all corners of a box are within its pixels, turned or not", () => {
  const [c, s] = [Math.cos(0.6), Math.sin(0.6)];
  const pose = [c, s, 0, 0, -s, c, 0, 0, 0, 0, 1, 0, 1, 2, 3, 1];
  const [low, size] = [[-1, -0.5, 0], [2, 1, 6]];
  const rect = rectOf(pose, low, size, ASKEW, WIDTH, HEIGHT);
  const found = [0, 1, 2, 3, 4, 5, 6, 7].map((n) => {
    const corner = [0, 1, 2].map((k) => low[k] + (n >> k & 1) * size[k]);
    const [x, y] = /** @type {number[]} */ (pixel(ASKEW, times(pose, [...corner, 1]).slice(0, 3), WIDTH, HEIGHT));
    return [x - rect.x, HEIGHT - y - rect.y];
  });
  const [across, up] = [found.map(([x]) => x), found.map(([, y]) => y)];
  assert.ok(Math.min(...across) >= 1 && Math.min(...across) < 2 && Math.max(...across) <= rect.width - 1);
  assert.ok(Math.min(...up) >= 1 && Math.min(...up) < 2 && Math.max(...up) <= rect.height - 1);
});

test("a part of the view shows its pixels where the whole view has them", () => {
  const rect = { x: 30, y: -40, width: 70, height: 90 };
  const part = through(ASKEW, rect, WIDTH, HEIGHT);
  for (const point of [[1.5, -0.5, 11], [0, 0, 0], [-4, 7, 30]]) {
    const [x, y] = /** @type {number[]} */ (pixel(ASKEW, point, WIDTH, HEIGHT));
    const [left, above] = /** @type {number[]} */ (pixel(part, point, rect.width, rect.height));
    assert.ok(Math.abs(left - (x - rect.x)) < 1e-9);
    assert.ok(Math.abs(rect.height - above - (HEIGHT - y - rect.y)) < 1e-9);
    assert.ok(Math.abs(depth(part, point) - depth(ASKEW, point)) < 1e-12);
  }
});

test("what is carried moves by the pixels that come nearest, and its depth is exact", () => {
  const from = upright([1, 2, 3]);
  for (const [at, to] of [[SOUTH, upright([1, 2, 5.26])], [ASKEW, upright([1.2, 1.7, 7.03])]]) {
    const moved = movedBy(from, /** @type {number[]} */ (to), /** @type {typeof SOUTH} */ (at), HEIGHT);
    const view = /** @type {typeof SOUTH} */ (at);
    const place = (/** @type {number[]} */ pose) => /** @type {number[]} */ (pixel(view, pose.slice(12, 15), WIDTH, HEIGHT));
    const [before, now, shown] = [from, /** @type {number[]} */ (to), moved.pose].map(place);
    assert.ok(Math.hypot(shown[0] - before[0] - moved.x, before[1] - shown[1] - moved.y) < 1e-9);
    assert.ok(Math.abs(shown[0] - now[0]) <= 0.5 && Math.abs(shown[1] - now[1]) <= 0.5);
    const nearer = depth(view, /** @type {number[]} */ (to).slice(12, 15)) - depth(view, from.slice(12, 15));
    assert.ok(Math.abs(moved.depth - nearer) < 1e-12);
    assert.ok(Math.abs(depth(view, moved.pose.slice(12, 15)) - depth(view, /** @type {number[]} */ (to).slice(12, 15))) < 1e-12);
  }
  assert.deepEqual([movedBy(from, upright([1, 2, 5.26]), SOUTH, HEIGHT)].map(({ x, y }) => [x, y]), [[0, 23]]);
});

test("of what never moves only the picture's own pixels are printed, and nothing too large is", () => {
  assert.deepEqual(clipped({ x: -5, y: 190, width: 30, height: 30 }, WIDTH, HEIGHT), { x: 0, y: 190, width: 25, height: 10 });
  assert.equal(Print.fits(clipped({ x: 500, y: 0, width: 30, height: 30 }, WIDTH, HEIGHT), WIDTH, HEIGHT), false);
  assert.equal(Print.fits({ x: -100, y: 0, width: 400, height: 400 }, WIDTH, HEIGHT), true);
  assert.equal(Print.fits({ x: 0, y: 0, width: 400, height: 401 }, WIDTH, HEIGHT), false);
  assert.equal(Print.fits({ x: 0, y: 0, width: 10, height: 3000 }, WIDTH, HEIGHT), false);
});
