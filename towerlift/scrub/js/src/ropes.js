// Ropes: each straight piece a strip of two triangles, widened across it in the shader. All are
// drawn at once, since a processor draws each of many instances as if it were alone.

import { BufferAttribute, BufferGeometry, DoubleSide, DynamicDrawUsage, GLSL3, Mesh, RawShaderMaterial, Vector3 } from "three";
import { LAYER } from "./mover.js";
import * as shaders from "./shaders.js";

const COLOUR = [58, 84, 120];
const CORNERS = [[0, -1], [1, -1], [1, 1], [0, 1]];

export class Ropes {
  /** @param {number} most pieces at once @param {import("three").Vector2} viewport */
  constructor(most, viewport) {
    this.geometry = new BufferGeometry();
    /** @param {string} name @param {number} size */
    const made = (name, size) => {
      const attribute = new BufferAttribute(new Float32Array(4 * most * size), size).setUsage(DynamicDrawUsage);
      this.geometry.setAttribute(name, attribute);
      return attribute;
    };
    const position = made("position", 2);
    this.starts = made("start", 3);
    this.stops = made("stop", 3);
    this.radii = made("radius", 1);
    const index = new (4 * most > 0xffff ? Uint32Array : Uint16Array)(6 * most);
    for (let n = 0; n < most; n++) {
      position.array.set(CORNERS.flat(), 8 * n);
      index.set([0, 1, 2, 0, 2, 3].map((corner) => 4 * n + corner), 6 * n);
    }
    this.geometry.setIndex(new BufferAttribute(index, 1));
    this.geometry.setDrawRange(0, 0);
    this.material = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.ropeVertex, fragmentShader: shaders.plainFragment,
      uniforms: { uViewport: { value: viewport }, uColour: { value: new Vector3(...COLOUR) }, uAlpha: { value: 1 } },
      side: DoubleSide,
    });
    this.mesh = new Mesh(this.geometry, this.material);
    this.mesh.layers.set(LAYER.ropes);
  }

  /** @param {{points: number[][], radius: number}[]} ropes */
  set(ropes) {
    const { starts, stops, radii } = this;
    let k = 0;
    for (const { points, radius } of ropes) {
      for (let n = 0; n + 1 < points.length; n++) {
        for (let corner = 0; corner < 4; corner++, k++) {
          starts.array.set(points[n], 3 * k);
          stops.array.set(points[n + 1], 3 * k);
          radii.array[k] = radius;
        }
      }
    }
    this.geometry.setDrawRange(0, (6 * k) / 4);
    for (const attribute of [starts, stops, radii]) {
      attribute.clearUpdateRanges();
      attribute.addUpdateRange(0, k * attribute.itemSize);
      attribute.needsUpdate = true;
    }
  }

  dispose() {
    this.geometry.dispose();
    this.material.dispose();
  }
}
