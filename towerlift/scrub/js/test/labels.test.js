// Words over the picture: where they go when they would lie on one another.

import assert from "node:assert/strict";
import test from "node:test";
import { Places, widthOf, wrapped } from "../src/labels.js";
import { forceArrows, forceWords, sectionMarks } from "../src/overlay.js";

const SOUTH = { focus: [0, 0, 10], span: 20, azimuth: Math.PI, rise: 0, cut: null };
const [WIDTH, HEIGHT, SIZE] = [600, 700, 11];
/** @param {import("../src/labels.js").Box} a @param {import("../src/labels.js").Box} b */
const overlap = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

test("what finds its place free stays there", () => {
  const places = new Places(200, 100);
  assert.deepEqual(places.put(40, 10, 30, [{ left: 50, cost: 0 }]), { left: 50, top: 30, right: 90, bottom: 40 });
});

test("what would lie on another goes to the nearer side of it, and up when both are as near", () => {
  const places = new Places(200, 100);
  places.take(60, 40, 100, 60);
  assert.equal(places.free(70, 38, 20, 10), 28); // 2 px above: 40 - 10 - 2
  assert.equal(places.free(70, 55, 20, 10), 62); // 2 px below
  assert.equal(places.free(70, 45, 20, 10), 28);
  assert.equal(places.free(103, 45, 20, 10), 45); // beside it there is room
});

test("what would leave the picture comes back into it", () => {
  const places = new Places(200, 100);
  const box = places.put(40, 10, 130, [{ left: 190, cost: 0 }]);
  assert.deepEqual(box, { left: 160, top: 90, right: 200, bottom: 100 });
});

test("another column is taken when it is dearer to go up or down", () => {
  const places = new Places(200, 100);
  places.take(50, 0, 90, 60);
  const choices = [{ left: 55, cost: 0 }, { left: 5, cost: 12 }];
  assert.equal(places.put(30, 10, 20, choices).left, 5);
  const near = new Places(200, 100);
  near.take(50, 15, 90, 22);
  assert.equal(near.put(30, 10, 20, choices).left, 55);
});

test("a number without room anywhere is written where it was wanted", () => {
  const places = new Places(100, 50);
  places.take(0, 0, 100, 50);
  assert.equal(places.put(40, 10, 20, [{ left: 30, cost: 0 }]).top, 20);
});

test("widths are those of bold letters, or a little more", () => {
  // DejaVu Sans Bold: digits 0.696, letters 0.68 on average, space 0.348 em.
  assert.ok(widthOf("0") >= 0.696 && widthOf("0") < 0.8);
  assert.ok(widthOf("48.8 kN") >= 4.2 && widthOf("48.8 kN") < 5.2);
});

test("words go on in the line below, none is lost", () => {
  const words = "shoes at 7 m/s, at most 2.4 kN upper, 1.6 kN lower";
  const lines = wrapped(words, 16);
  assert.ok(lines.length > 1 && lines.every((each) => widthOf(each) <= 16));
  assert.equal(lines.join(" "), words);
  assert.deepEqual(wrapped("immeasurable", 2), ["immeasurable"]);
});

const SECTIONS = [{ name: "base", length: 8, state: "moving on L3", half: 1.6 },
  { name: "belfry", length: 6, state: "secured on belfry pendants", half: 1.4 },
  { name: "spire", length: 5, state: "secured on belfry", half: 1 }];

/** All words of a step, as boxes, the base at a height. @param {number} heel */
function step(heel) {
  const places = new Places(WIDTH, HEIGHT);
  const sheet = { at: SOUTH, width: WIDTH, height: HEIGHT, size: SIZE, unit: /** @type {"m"} */ ("m"), places };
  const heels = [heel, 9, 9.3];
  const lines = [-1.5, -0.6, 0.6, 1.5].map((x) => ({ at: [x, 0, heel + 0.4], tension: 46200 }));
  const { said } = forceArrows(sheet, { lines }, []);
  const shafts = places.taken.length;
  sectionMarks(sheet, SECTIONS.map((each, n) => ({ ...each, heel: heels[n] })), [0, 0]);
  const written = forceWords(sheet, said);
  return { words: places.taken.slice(shafts), shafts: places.taken.slice(0, shafts), written };
}

test("no words lie on others at any step", () => {
  for (let heel = 0; heel < 18; heel += 0.05) {
    const { words, shafts } = step(heel);
    assert.deepEqual([words.length, shafts.length], [7, 4]);
    for (const word of words) assert.ok(!shafts.some((shaft) => overlap(word, shaft)), `heel ${heel}: on an arrow`);
    for (let i = 0; i < words.length; i++) {
      for (let j = i + 1; j < words.length; j++) assert.ok(!overlap(words[i], words[j]), `heel ${heel}: ${i} on ${j}`);
    }
  }
});

test("shoes of one side are told together, at the hardest", () => {
  const sheet = { at: SOUTH, width: WIDTH, height: HEIGHT, size: SIZE, unit: /** @type {"m"} */ ("m"), places: new Places(WIDTH, HEIGHT) };
  const shoe = (/** @type {number} */ z, /** @type {number} */ force) => ({ at: [2, 0, z], force: [-force, 0, 0], name: "shoe east" });
  const { said } = forceArrows(sheet, null, [shoe(4, 1000), shoe(9, 3000), shoe(6, 2000), { ...shoe(5, 700), name: "shoe west" }]);
  assert.deepEqual(said.map((each) => each.words), ["shoe east, hardest of 3: 3.0 kN", "shoe west 0.7 kN"]);
  assert.ok(Math.abs(said[0].y - (HEIGHT / 2 + HEIGHT / 20 - SIZE / 2)) < 1e-9); // at z = 9, 1 m below the middle
});

test("the same step is always written alike", () => {
  assert.equal(step(8.84).written, step(8.84).written);
});

test("words go along with the tower, and past others in one leap each", () => {
  // A step of 1 cm is 0.35 px; a word that passes a name leaps over it, and does not come back.
  const leaps = [0, 0, 0, 0];
  let before = step(0).words.slice(3);
  for (let heel = 0.01; heel < 18; heel += 0.01) {
    const now = step(heel).words.slice(3);
    now.forEach((box, n) => {
      if (Math.hypot(box.left - before[n].left, box.top - before[n].top) > 2) leaps[n] += 1;
    });
    before = now;
  }
  assert.ok(Math.max(...leaps) <= 6, `${leaps}`);
});
