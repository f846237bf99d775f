// What does not move is drawn once and kept, colours and depths; while the slider moves, it is
// laid under what does. Only where the processor draws: a graphics processor has no need of it.

import {
  AlwaysDepth,
  BufferAttribute,
  BufferGeometry,
  DepthTexture,
  GLSL3,
  Mesh,
  NearestFilter,
  RawShaderMaterial,
  UnsignedIntType,
  WebGLRenderTarget,
} from "three";
import { LAYER } from "./mover.js";
import * as shaders from "./shaders.js";

/** A triangle that covers the picture. */
export function wholePicture() {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(new Float32Array([-1, -1, 3, -1, -1, 3]), 2));
  return geometry;
}

export class Kept {
  constructor() {
    /** Of what is kept; empty where nothing is. */
    this.key = "";
    /** What was asked for last. */
    this.wanted = "";
    this.target = new WebGLRenderTarget(1, 1, {
      magFilter: NearestFilter, minFilter: NearestFilter, depthTexture: new DepthTexture(1, 1, UnsignedIntType),
    });
    const geometry = wholePicture();
    const material = new RawShaderMaterial({
      glslVersion: GLSL3, vertexShader: shaders.keptVertex, fragmentShader: shaders.keptFragment,
      uniforms: { uColours: { value: this.target.texture }, uDepths: { value: this.target.depthTexture } },
      depthFunc: AlwaysDepth,
    });
    this.mesh = new Mesh(geometry, material);
    this.mesh.layers.set(LAYER.kept);
    this.disposables = [geometry, material, this.target];
  }

  dispose() {
    for (const each of this.disposables) each.dispose();
    this.target.depthTexture?.dispose();
  }
}
