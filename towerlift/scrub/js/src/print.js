// A print of a body: its picture, colours and depths, drawn once and laid where the body has
// come to. Seen along parallel lines, what is carried without turning keeps its picture and only
// moves it, here by whole pixels, and comes nearer or farther as a whole. Where the processor
// draws, that takes a fraction of the time; once the slider rests everything is drawn anew.

import {
  BufferAttribute,
  BufferGeometry,
  DepthTexture,
  GLSL3,
  Mesh,
  NearestFilter,
  RawShaderMaterial,
  UnsignedIntType,
  Vector4,
  WebGLRenderTarget,
} from "three";
import * as shaders from "./shaders.js";
import { DEPTH, axes, dot } from "./standpoint.js";

/** @typedef {import("./standpoint.js").Standpoint} Standpoint */
/** @typedef {{x: number, y: number, width: number, height: number}} Rect from the lower left [px] */

const WIDEST = 2048; // [px]

/** Pixels that a box takes up, a pixel wider all round.
 * @param {ArrayLike<number>} pose shaft_from_body, column by column
 * @param {number[]} low @param {number[]} size of the box, frame of the body [m]
 * @param {Standpoint} at seen along parallel lines
 * @param {number} width @param {number} height of the picture [px]
 * @returns {Rect} */
export function rectOf(pose, low, size, at, width, height) {
  const { right, up } = axes(at);
  const scale = height / at.span;
  const middle = low.map((value, k) => value + size[k] / 2);
  const centre = [0, 1, 2].map((k) => pose[k] * middle[0] + pose[4 + k] * middle[1] + pose[8 + k] * middle[2]
    + pose[12 + k] - at.focus[k]);
  const [[x, wide], [y, high]] = [right, up].map((way) => [scale * dot(way, centre),
    scale * size.reduce((sum, side, k) => sum + Math.abs(dot(way, [pose[4 * k], pose[4 * k + 1], pose[4 * k + 2]])) * side / 2, 0)]);
  const [left, bottom] = [Math.floor(width / 2 + x - wide) - 1, Math.floor(height / 2 + y - high) - 1];
  return { x: left, y: bottom, width: Math.ceil(width / 2 + x + wide) + 1 - left, height: Math.ceil(height / 2 + y + high) + 1 - bottom };
}

/** @param {Rect} rect @param {number} width @param {number} height of the picture @returns {Rect} */
export function clipped(rect, width, height) {
  const [x, y] = [Math.max(rect.x, 0), Math.max(rect.y, 0)];
  return { x, y, width: Math.min(rect.x + rect.width, width) - x, height: Math.min(rect.y + rect.height, height) - y };
}

/** The part of a view that shows only these pixels of it. @param {Standpoint} at @param {Rect} rect
 * @param {number} width @param {number} height of the whole picture [px] @returns {Standpoint} */
export function through(at, rect, width, height) {
  const { right, up } = axes(at);
  const metres = at.span / height;
  const [x, y] = [metres * (rect.x + rect.width / 2 - width / 2), metres * (rect.y + rect.height / 2 - height / 2)];
  return { ...at, focus: at.focus.map((value, k) => value + x * right[k] + y * up[k]), span: metres * rect.height };
}

/** How a picture moves with what it shows: whole pixels, depth, and where that puts the body.
 * @param {ArrayLike<number>} from pose it was drawn in @param {ArrayLike<number>} to pose it has come to,
 * turned as before
 * @param {Standpoint} at @param {number} height of the picture [px] */
export function movedBy(from, to, at, height) {
  const { right, up, towards } = axes(at);
  const scale = height / at.span;
  const shift = [12, 13, 14].map((k) => to[k] - from[k]);
  const [x, y] = [Math.round(scale * dot(right, shift)), Math.round(scale * dot(up, shift))];
  const nearer = dot(towards, shift);
  const pose = Array.from(to);
  for (let k = 0; k < 3; k++) pose[12 + k] = from[12 + k] + (x * right[k] + y * up[k]) / scale + nearer * towards[k];
  return { x, y, depth: -nearer / DEPTH, pose };
}

export class Print {
  /** @param {import("three").Vector2} viewport size of the picture [px] */
  constructor(viewport) {
    /** Of what is shown; empty where nothing is. */
    this.key = "";
    /** What was asked for last. */
    this.wanted = "";
    /** @type {ArrayLike<number>} pose it was drawn in */
    this.pose = [];
    /** @type {Rect} */
    this.rect = { x: 0, y: 0, width: 0, height: 0 };
    this.target = new WebGLRenderTarget(1, 1, {
      magFilter: NearestFilter, minFilter: NearestFilter, depthTexture: new DepthTexture(1, 1, UnsignedIntType),
    });
    this.uniforms = {
      uColours: { value: this.target.texture }, uDepths: { value: this.target.depthTexture },
      uViewport: { value: viewport }, uRect: { value: new Vector4() }, uDepth: { value: 0 },
    };
    this.geometry = new BufferGeometry();
    this.geometry.setAttribute("position", new BufferAttribute(new Float32Array([0, 0, 1, 0, 1, 1, 0, 0, 1, 1, 0, 1]), 2));
    this.material = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.printVertex, fragmentShader: shaders.printFragment, uniforms: this.uniforms,
    });
    this.mesh = new Mesh(this.geometry, this.material);
    this.mesh.visible = false;
  }

  /** Whether a print of these pixels is worth its room. @param {Rect} rect @param {number} width
   * @param {number} height of the picture [px] */
  static fits(rect, width, height) {
    return rect.width > 0 && rect.height > 0 && Math.max(rect.width, rect.height) <= WIDEST
      && rect.width * rect.height <= 2 * width * height;
  }

  /** Make room for these pixels, and draw into it. @param {import("three").WebGLRenderer} renderer
   * @param {Rect} rect */
  open(renderer, rect) {
    const { target } = this;
    // Larger only, so that a body that is a pixel wider here and there needs no other room.
    if (rect.width > target.width || rect.height > target.height) {
      target.setSize(Math.max(rect.width, target.width), Math.max(rect.height, target.height));
    }
    target.viewport.set(0, 0, rect.width, rect.height);
    renderer.setRenderTarget(target);
    this.rect = rect;
  }

  /** Lay it where the body has come to, and say in which pose that shows the body.
   * @param {ArrayLike<number>} pose @param {Standpoint} at @param {number} height of the picture [px] */
  lay(pose, at, height) {
    const { x, y, width, height: high } = this.rect;
    const moved = movedBy(this.pose, pose, at, height);
    this.uniforms.uRect.value.set(x + moved.x, y + moved.y, width, high);
    this.uniforms.uDepth.value = moved.depth;
    return moved.pose;
  }

  dispose() {
    this.geometry.dispose();
    this.material.dispose();
    this.target.dispose();
    this.target.depthTexture?.dispose();
  }
}
