// Views and units, by hand.

import assert from "node:assert/strict";
import test from "node:test";
import { closeUp, from, looking, matrices, pixel, wholeTower } from "../src/standpoint.js";
import { feet, gap, heightsIn, inches, length, scaleStep } from "../src/units.js";
import { findingHtml, findingLine } from "../src/layout.js";
import { unpack } from "../src/parcel.js";
import { escape, shorten, ticks } from "../src/svg.js";
import { gapColour } from "../src/overlay.js";

const SOUTH = { focus: [0, 0, 10], span: 20, azimuth: Math.PI, rise: 0, cut: null };
/** @param {number[]} a @param {number[]} b */
const near = (a, b) => a.every((value, k) => Math.abs(value - b[k]) < 1e-6);
/** @param {number[]} m @param {number[]} v */
const times = (m, v) => [0, 1, 2, 3].map((k) => m[k] * v[0] + m[4 + k] * v[1] + m[8 + k] * v[2] + m[12 + k] * v[3]);

test("from the south east lies right and up is up, to scale", () => {
  assert.ok(near(pixel(SOUTH, [0, 0, 10], 400, 200), [200, 100]));
  assert.ok(near(pixel(SOUTH, [3, 5, 12], 400, 200), [230, 80]));
  assert.equal(looking(SOUTH), "north");
});

for (const [name, at] of Object.entries({ level: SOUTH, askew: { ...SOUTH, azimuth: 0.7, rise: 0.4 },
  person: from([9, -7, 1.6], [0, 0, 12]) })) {
  test(`the matrices put points where the pixels say: ${name}`, () => {
    const { view, projection } = matrices(at, 400, 200);
    const point = [1.5, -0.5, 11];
    const [x, y, , w] = times(projection, times(view, [...point, 1]));
    assert.ok(near([(x / w + 1) * 200, (1 - y / w) * 100], pixel(at, point, 400, 200)));
  });
}

test("what is behind a person is not in the picture", () => {
  assert.equal(pixel(from([0, -10, 1.6], [0, 0, 1.6]), [0, -12, 1.6], 400, 200), null);
});

test("the whole tower fits", () => {
  const at = wholeTower({ low: [-3, -3, 0], high: [3, 3, 48] }, 400, 600);
  for (const z of [0, 48]) {
    const [, y] = pixel(at, [0, 0, z], 400, 600);
    assert.ok(y > 0 && y < 600);
  }
});

test("a close view is cut in front of a gap and no nearer than it must be", () => {
  const at = closeUp([2, 0, 5], [0.011, 0, 0]);
  assert.equal(at.span, 0.8);
  assert.equal(closeUp([2, 0, 5], [0.06, 0, 0]).span, 1.2);
  assert.equal(closeUp([2, 0, 5], [3, 0, 0]).span, 1.6);
  assert.equal(at.cut, 0.05);
});

test("a gap is never rounded up", () => {
  assert.equal(gap(0.0119, "m"), "11 mm");
  assert.equal(gap(-0.0101, "m"), "−11 mm");
  assert.equal(gap(0.0254, "ft"), "1.00 in");
  assert.equal(gap(0.0253, "ft"), "0.94 in");
});

test("lengths in feet", () => {
  assert.equal(feet(0.3048), "1 ft 0 in");
  assert.equal(feet(0.3048 * 2 + 0.0254 * 3.5), "2 ft 3½ in");
  assert.equal(length(4.6566, "m"), "4.66 m");
  assert.equal(scaleStep(0.9, "m").step, 1);
  assert.equal(scaleStep(1.2, "m").step, 2);
});

test("inches are rounded the way they are asked to be", () => {
  assert.equal(inches(0.0254, true), "1.00 in");
  assert.equal(inches(0.0311, true), "1.22 in");
  assert.equal(inches(0.0311, false), "1.23 in");
});

test("heights in words follow the reader's unit, speeds do not", () => {
  const words = "base rises, heel 0.3048 to 3.048 m at 0.05 m/s; picks up the spire at heel 13.9 m";
  assert.equal(heightsIn(words, "m"), words);
  assert.equal(heightsIn(words, "ft"),
    "base rises, heel 1 ft 0 in to 10 ft 0 in at 0.05 m/s; picks up the spire at heel 45 ft 7¼ in");
});

test("a finding in feet is never told better than it is", () => {
  const finding = { word: "passes", check: "clearance", subject: "base", stage: "S1", heel: 3.048, where: [0, 0, 3.048],
    found: "31.1 mm", asked: "at least 30 mm", spare: "1.1 mm to spare", unit: "mm", bound: "at least", value: 31.1,
    limit: 30, margin: 1.1, why: "drawn 5 m wide", remedy: [], source: "practice", overrule: "" };
  const html = findingHtml(finding, "ft");
  assert.match(html, /1\.22 in<\/b>, asked at least 1\.19 in: 0\.04 in to spare/);
  assert.match(html, /heel at 10 ft 0 in, at east 0 ft 0 in, north 0 ft 0 in, up 10 ft 0 in/);
  assert.match(html, /told in metres/);
  assert.match(findingHtml(finding, "m"), /31\.1 mm<\/b>, asked at least 30 mm: 1\.1 mm to spare/);
  assert.match(findingLine({ ...finding, unit: "kN", found: "3 kN", asked: "at most 4 kN" }, "ft"), /3 kN \(at most 4 kN\)/);
});

test("a parcel is read as it was packed", () => {
  const head = new TextEncoder().encode('{"arrays":{"a":["u2",0,3]}}     ');
  const parcel = new Uint8Array(8 + head.length + 8);
  parcel.set(new TextEncoder().encode("TLP1"));
  new DataView(parcel.buffer).setUint32(4, head.length, true);
  parcel.set(head, 8);
  parcel.set([1, 0, 2, 0, 255, 255], 8 + head.length);
  assert.deepEqual([...unpack(parcel).arrays.a], [1, 2, 65535]);
  assert.throws(() => unpack(new Uint8Array(16)), /not a parcel/);
});

test("what a plan names cannot write into the page", () => {
  assert.equal(escape('<b "a">'), "&lt;b &quot;a&quot;&gt;");
  assert.equal(shorten("a long name", 10, 40), "a long…");
});

test("ticks are round", () => {
  assert.deepEqual(ticks(0, 120, 4), [0, 50, 100]);
});

test("nearer is darker", () => {
  const light = [0.01, 0.03, 0.07, 0.15, 0.3, 1].map((metres) => {
    const [r, g, b] = gapColour(metres);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  });
  for (let k = 1; k < light.length; k++) assert.ok(light[k] > light[k - 1] + 12);
});
