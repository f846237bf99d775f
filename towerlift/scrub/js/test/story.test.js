// Where everything is at a position of the raise, by a small raise worked out by hand.

import assert from "node:assert/strict";
import test from "node:test";
import { carried, poseMatrix, Story, TRUE_HANG } from "../src/story.js";

const still = { step: "install", words: "", event: "", lift: null, begins: null, lasts: 0, moving: [],
  states: [], carriers: [], fixtures: [], fitted: [] };
const head = {
  plumb: [0.5, -0.25, 0],
  sections: [{ name: "outer", length: 8 }, { name: "inner", length: 6 }],
  passages: [
    { ...still, stage: "A", heels: [null, [0, 0]] },
    { ...still, stage: "A", step: "lift", lift: "L", moving: [1], lasts: 100, heels: [null, [0, 4]] },
    { ...still, stage: "B", heels: [[0, 0], [4, 4]] },
    { ...still, stage: "B", step: "lift", lift: "M", moving: [0], lasts: 50, heels: [[0, 2], [4, 4]] },
    { ...still, stage: "B", step: "lift", lift: "M", moving: [0, 1], lasts: 50, heels: [[2, 3], [4, 5]] },
  ],
  gaps: [
    { passage: 3, moving: "outer", against: "shaft", heels: [0, 1, 2], least: [0.08, 0.011], at: [0.5, 1.75],
      where: [[1, 0, 3], [2, 0, 5]], opposite: [[1.08, 0, 3], [2.011, 0, 5]], marks: ["a", "b"],
      oppositeMarks: ["wall", "ledge"], certified: true },
    { passage: 3, moving: "outer", against: "inner", heels: [0, 2], least: [0.05], at: [1],
      where: [[0, 1, 4]], opposite: [[0, 1.05, 4]], marks: ["c"], oppositeMarks: ["d"], certified: false },
  ],
  loads: [
    { passage: 1, lift: "L", hauled: ["inner"], lines: ["T1"], heels: [0, 4], weight: [1000, 1400], ratio: [2, null],
      tensions: [[500], [700]], pull: [[60], [80]], lower: [[[1, 1, 0]], [[1, 1, 4]]] },
  ],
  limits: [], findings: [],
};
const story = new Story(head);

test("a step without travel has room on the slider", () => {
  assert.deepEqual(story.bounds, [0, 0.25, 4.25, 4.5, 6.5, 7.5]);
});

test("way and position turn into each other", () => {
  for (const position of [0, 0.5, 1.25, 2, 3.75, 4.999, 5]) {
    assert.ok(Math.abs(story.position(story.along(position)) - position) < 1e-12);
  }
  assert.equal(story.position(-3), 0);
  assert.equal(story.position(99), 5);
});

test("heels move evenly, and what is not on the site has none", () => {
  assert.equal(story.heel(1, 1.25), 1);
  assert.equal(story.heel(0, 1.25), null);
  assert.equal(story.heel(0, 3.5), 1);
  assert.equal(story.heel(0, 5), 3);
});

test("stages begin and end with their passages", () => {
  assert.deepEqual(story.stages, [{ name: "A", first: 0, last: 2 }, { name: "B", first: 2, last: 5 }]);
});

test("the least gap is that of the step that holds the heel", () => {
  const before = story.nearest(3.25);
  assert.deepEqual([before.against, before.gap, before.certified], ["inner", 0.05, false]);
  const at = story.nearest(3.75);
  assert.deepEqual([at.mark, at.oppositeMark, at.gap], ["b", "ledge", 0.011]);
  assert.deepEqual(at.where, [2, 0, 5 + 1.5 - 1.75]);
  assert.equal(story.nearest(0.5), null);
});

test("a gap at a place is told before a smaller one elsewhere", () => {
  assert.equal(story.nearest(3.75, [0, 1, 4.4]).mark, "c");
  assert.equal(story.nearest(3.75, [9, 9, 9]).mark, "b");
});

test("loads are read between their heights, and nothing is made of what is missing", () => {
  const loads = story.loads(1.5);
  assert.equal(loads.weight, 1200);
  assert.equal(loads.ratio, null);
  assert.deepEqual(loads.lines[0], { name: "T1", tension: 600, pull: 70, at: [1, 1, 2] });
  assert.equal(story.loads(3.5), null);
});

test("a haul cut by a pick-up is one run", () => {
  assert.deepEqual(story.haulNear(4), [3, 4]);
  assert.deepEqual(story.haulNear(2), [3, 4]);
  assert.deepEqual(story.haulNear(0), [1]);
});

test("time runs at true speed while something moves", () => {
  assert.equal(story.after(1, 25, 1, 0.5), 1.25);
  assert.equal(story.after(1, 2.5, 10, 0.5), 1.25);
  assert.equal(story.after(0.5, 0.25, 1, 0.5), 1);
  assert.equal(story.after(4, 1e6, 1, 0.5), 5);
});

test("a pose carries the heel to the plumb line, and tilts about it", () => {
  assert.deepEqual(carried(poseMatrix(0.5, -0.25, 3, 0, TRUE_HANG), [1, 2, 4]), [1.5, 1.75, 7]);
  const tilted = poseMatrix(0, 0, 0, 0, { ...TRUE_HANG, tiltX: Math.PI / 2 });
  assert.ok(Math.abs(carried(tilted, [0, 1, 0])[2] - 1) < 1e-12);
  const turned = poseMatrix(0, 0, 0, 0, { ...TRUE_HANG, yaw: Math.PI / 2 });
  assert.ok(Math.abs(carried(turned, [1, 0, 0])[1] - 1) < 1e-12);
});

test("shoes press as was reckoned, the greater where the heel is between two heights", () => {
  const shoes = [{ passage: 4, section: "outer", on: ["runners"], gust: 11, heels: [2, 2.5, 3], upper: [800, 2000, 3000],
    lower: [600, 900, 1800], nUpper: [2, 2, 1], nLower: [2, 2, 2], foot: [0.5, 0.5, 0.5], head: [7, 7, 6],
    towards: [[1, 0], [0, -1], [0, -1]], across: [false, true, true] }];
  const guided = new Story({ ...head, shoes });
  assert.deepEqual(guided.shoes(3.5, 2), []);
  const [upper, lower] = guided.shoes(4.25, 2); // heel 2.25, between the first two
  assert.deepEqual(upper, { name: "2 upper shoes at 11 m/s:", at: [0.5, -2.25, 9.25], force: [-0, 2000, 0] });
  assert.deepEqual(lower, { name: "2 lower shoes at 11 m/s:", at: [0.5, 1.75, 2.75], force: [0, -900, 0] });
  const [last] = guided.shoes(4.9, 2);
  assert.equal(last.name, "1 upper shoe at 11 m/s:");
  assert.equal(last.force[1], 3000);
});
