// The picture at twice its width and height, brought down to its own, each pixel the mean of
// four. So lines are finer at rest, and the canvas keeps its size, which costs more to change
// than to draw.

import { AlwaysDepth, GLSL3, Mesh, NearestFilter, RawShaderMaterial, WebGLRenderTarget } from "three";
import { LAYER } from "./mover.js";
import { wholePicture } from "./kept.js";
import * as shaders from "./shaders.js";

export const FINER = 2;

export class Fine {
  constructor() {
    this.target = new WebGLRenderTarget(1, 1, { magFilter: NearestFilter, minFilter: NearestFilter });
    this.target.scissorTest = true;
    this.geometry = wholePicture();
    this.material = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.keptVertex, fragmentShader: shaders.fineFragment,
      uniforms: { uColours: { value: this.target.texture } }, depthFunc: AlwaysDepth,
    });
    this.mesh = new Mesh(this.geometry, this.material);
    this.mesh.layers.set(LAYER.fine);
  }

  /** Draw into a part of it from now on. @param {import("three").WebGLRenderer} renderer
   * @param {number} x @param {number} bottom @param {number} width @param {number} height */
  open(renderer, x, bottom, width, height) {
    const { viewport, scissor } = this.target;
    viewport.set(x, bottom, width, height).multiplyScalar(FINER);
    scissor.copy(viewport);
    renderer.setRenderTarget(this.target);
  }

  dispose() {
    this.geometry.dispose();
    this.material.dispose();
    this.target.dispose();
  }
}
