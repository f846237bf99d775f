// One body that moves as one: its triangles, the lines of its edges, and those of its members
// that are marked. Wherever it is drawn, only what may be seen of it is.

import {
  BufferAttribute,
  BufferGeometry,
  DoubleSide,
  DynamicDrawUsage,
  FrontSide,
  GLSL3,
  LineSegments,
  Mesh,
  RawShaderMaterial,
  Vector3,
} from "three";
import { Parts, runsSeen } from "./culling.js";
import { Print } from "./print.js";
import * as shaders from "./shaders.js";

// What a camera sees of the scene, by its layers.
export const LAYER = { still: 0, moving: 1, edges: 2, marks: 3, ropes: 4, hazards: 5, near: 6, kept: 7, fine: 8, alone: 9 };
const MANY = 20_000; // triangles of a mover above which what cannot be seen is left out
const SLACK = 512; // triangles that are drawn for nothing rather than in another call
const OVER_PRINT = -16; // how much nearer than its print a mark is, at least [least steps of depth]
const MOST_KNOWN = 64; // members whose triangles are remembered

/** @typedef {import("./standpoint.js").Standpoint} Standpoint */
/** @typedef {{palette: import("three").DataTexture, marks: import("three").DataTexture}} Palettes */

export class Mover {
  /**
   * @param {any} told of the head
   * @param {number} n its place among the movers
   * @param {Record<string, any>} arrays
   * @param {Palettes} palettes
   * @param {import("three").Vector2} viewport size of the picture [px]
   */
  constructor(told, n, arrays, { palette, marks }, viewport) {
    /** @type {string} */
    this.name = told.name;
    this.shaft = n === 0;
    /** Nothing ever moves it. */
    this.fixed = this.shaft || told.name === "still";
    /** @type {number[]} */
    this.low = told.low;
    /** @type {number[]} */
    this.size = told.size;
    /** How often its colours changed. */
    this.paints = 0;
    /** @type {ArrayLike<number> | null} */
    this.pose = null;
    this.moving = false;
    this.chunks = { boxes: arrays[`boxes${n}`], firsts: arrays[`firsts${n}`] };
    /** @type {Uint16Array | Uint32Array} */
    this.faces = arrays[`faces${n}`];
    /** @type {Uint16Array} */
    this.places = arrays[`places${n}`];
    /** @type {Uint16Array} */
    this.owners = arrays[`members${n}`];
    this.count = this.faces.length / 3;
    /** @type {{dispose: () => void}[]} */
    this.disposables = [];
    const side = this.shaft ? FrontSide : DoubleSide;
    const [low, size] = [new Vector3(...told.low), new Vector3(...told.size)];
    /** @param {keyof typeof shaders.body} name @param {import("three").Texture} colours
     * @param {import("three").Side} side_ */
    const made = (name, colours, side_) => {
      const { vertex, fragment } = shaders.body[name];
      const material = new RawShaderMaterial({
        glslVersion: GLSL3, vertexShader: vertex, fragmentShader: fragment, side: side_,
        uniforms: { uLow: { value: low }, uSize: { value: size }, uPalette: { value: colours } },
      });
      this.disposables.push(material);
      return material;
    };
    // Bodies are closed, so that backs are seen only where a view is cut open. Each is a list,
    // since the faces are drawn in groups.
    this.whole = [made("faces", palette, FrontSide)];
    this.open = [made("faces", palette, side)];
    this.pick = [made("pick", palette, side)];
    this.marked = [made("marks", marks, FrontSide), made("marks", marks, side)];
    for (const material of this.marked) {
      // The same triangles once more: they win over themselves.
      material.polygonOffset = true;
      material.polygonOffsetFactor = material.polygonOffsetUnits = -1;
    }
    this.colours = new BufferAttribute(new Uint32Array(this.owners.length), 1);
    this.attributes = {
      position: new BufferAttribute(this.places, 3, true),
      member: new BufferAttribute(this.owners, 1, false),
      colour: this.colours,
    };
    this.mesh = new Mesh(this.indexed(new BufferAttribute(this.faces, 1)), this.whole);
    this.near = this.gathering(LAYER.near, this.open[0]);
    this.marks = this.gathering(LAYER.marks, this.marked[0]);
    this.edges = new LineSegments(
      this.indexed(new BufferAttribute(arrays[`edges${n}`], 1)), made("edges", palette, FrontSide));
    this.edges.layers.set(LAYER.edges);
    this.print = new Print(viewport);
    this.disposables.push(this.print);
    this.objects = [this.mesh, this.near, this.marks, this.edges];
    this.parts = new Parts(this.chunks, this.faces, this.places, this.low, this.size);
    /** @type {Map<number, Uint16Array | Uint32Array>} */
    this.known = new Map();
    /** @type {number[]} */
    this.shown = [];
  }

  /** A geometry of these corners. @param {BufferAttribute} index */
  indexed(index) {
    const geometry = new BufferGeometry();
    for (const [name, attribute] of Object.entries(this.attributes)) geometry.setAttribute(name, attribute);
    geometry.setIndex(index);
    this.disposables.push(geometry);
    return geometry;
  }

  /** Some of the triangles, others from time to time. @param {number} layer
   * @param {RawShaderMaterial} material */
  gathering(layer, material) {
    const mesh = new Mesh(this.indexed(this.room(0)), material);
    mesh.layers.set(layer);
    mesh.geometry.setDrawRange(0, 0);
    return mesh;
  }

  /** @param {number} corners */
  room(corners) {
    const Kind = /** @type {Uint16ArrayConstructor} */ (this.faces.constructor);
    return new BufferAttribute(new Kind(2 * corners), 1).setUsage(DynamicDrawUsage);
  }

  /** @param {Mesh} mesh of those that gather @param {(Uint16Array | Uint32Array)[]} parts */
  gather({ geometry }, parts) {
    const count = parts.reduce((sum, part) => sum + part.length, 0);
    geometry.setDrawRange(0, count);
    if (!count) return;
    if (/** @type {BufferAttribute} */ (geometry.index).count < count) geometry.setIndex(this.room(count));
    const index = /** @type {BufferAttribute} */ (geometry.index);
    let filled = 0;
    for (const part of parts) {
      /** @type {Uint16Array} */ (index.array).set(part, filled);
      filled += part.length;
    }
    index.addUpdateRange(0, count);
    index.needsUpdate = true;
  }

  /** @param {ArrayLike<number> | null} pose null hides it @param {boolean} moving */
  place(pose, moving) {
    this.pose = pose;
    this.moving = moving;
    const layer = moving ? LAYER.moving : LAYER.still;
    for (const mesh of [this.mesh, this.print.mesh]) mesh.layers.set(layer);
    for (const object of this.objects) {
      object.visible = pose !== null;
      if (pose) object.matrixWorld.fromArray(pose);
    }
    this.print.mesh.visible = false;
  }

  /** Show its print in its stead, where it has come to. @param {Standpoint} at
   * @param {number} height of the picture [px] */
  lay(at, height) {
    if (!this.pose) return;
    this.marks.matrixWorld.fromArray(this.print.lay(this.pose, at, height));
    this.marks.material = this.marked[0];
    this.marked[0].polygonOffsetUnits = OVER_PRINT;
    this.mesh.visible = false;
    this.print.mesh.visible = true;
  }

  /** Whether its own triangles are to be drawn. */
  get plain() {
    return this.pose !== null && !this.print.mesh.visible;
  }

  /** Make ready what this view may show of it. @param {Standpoint} at @param {number} aspect
   * @param {boolean} near whether that is little, and is gathered for one call */
  face(at, aspect, near) {
    if (!this.pose) return;
    const cut = at.cut !== null;
    this.marks.material = this.marked[Number(cut)];
    this.marked[0].polygonOffsetUnits = -1;
    const slack = near ? 0 : SLACK;
    const runs = near || this.count > MANY
      ? runsSeen(this.chunks, this.pose, at, aspect, { backs: cut && !this.shaft, slack, parts: near ? this.parts : undefined })
      : [0, this.count];
    if (near) {
      this.marks.matrixWorld.fromArray(this.pose);
      this.near.material = (cut ? this.open : this.whole)[0];
      const parts = [];
      for (let n = 0; n < runs.length; n += 2) parts.push(this.faces.subarray(3 * runs[n], 3 * runs[n + 1]));
      this.gather(this.near, parts);
    } else {
      const { geometry } = this.mesh;
      this.mesh.material = cut ? this.open : this.whole;
      geometry.clearGroups();
      for (let n = 0; n < runs.length; n += 2) geometry.addGroup(3 * runs[n], 3 * (runs[n + 1] - runs[n]), 0);
    }
  }

  /** @param {Uint32Array} palette colour of every member, as four bytes */
  paint(palette) {
    const { owners, colours } = this;
    let changed = false;
    for (let n = 0; n < owners.length; n++) {
      const colour = palette[owners[n]];
      if (colours.array[n] === colour) continue;
      colours.array[n] = colour;
      changed = true;
    }
    if (!changed) return;
    colours.needsUpdate = true;
    this.paints += 1;
  }

  /** Show these of its members over themselves, in the colours that the marks have for them.
   * @param {number[]} members */
  mark(members) {
    if (members.join() === this.shown.join()) return;
    this.shown = members;
    this.gather(this.marks, members.map((member) => this.trianglesOf(member)));
  }

  /** @param {number} member */
  trianglesOf(member) {
    const known = this.known.get(member);
    if (known) return known;
    const corners = [];
    for (let k = 0; k < this.faces.length; k += 3) {
      if (this.owners[this.faces[k]] === member) corners.push(this.faces[k], this.faces[k + 1], this.faces[k + 2]);
    }
    const Kind = /** @type {Uint16ArrayConstructor} */ (this.faces.constructor);
    const found = new Kind(corners);
    if (this.known.size > MOST_KNOWN) this.known.clear();
    this.known.set(member, found);
    return found;
  }

  dispose() {
    for (const each of this.disposables) each.dispose();
  }
}
