// Two lamps over the viewer's left shoulder, flat faces: the light of the Python pictures.

const HEAD = `precision highp float;
precision highp int;
`;

const BODY = `${HEAD}
uniform mat4 modelViewMatrix;
uniform mat4 projectionMatrix;
uniform vec3 uLow;
uniform vec3 uSize;
uniform highp sampler2D uPalette;
in vec3 position;
in float member;
vec4 texel(int k) { return texelFetch(uPalette, ivec2(k & 255, k >> 8), 0); }
`;

export const bodyVertex = `${BODY}
out vec3 vPlace;
flat out vec3 vColour;
void main() {
  vec4 colour = texel(int(member + 0.5));
  vec4 place = modelViewMatrix * vec4(uLow + uSize * position, 1.0);
  vPlace = place.xyz;
  vColour = colour.rgb;
  gl_Position = colour.a > 0.5 ? projectionMatrix * place : vec4(2.0, 2.0, 2.0, 1.0);
}`;

export const bodyFragment = `${HEAD}
in vec3 vPlace;
flat in vec3 vColour;
out vec4 colour;
void main() {
  vec3 n = normalize(cross(dFdx(vPlace), dFdy(vPlace)));
  float lit = 0.75 * max(dot(n, vec3(-0.46154, 0.59341, 0.65934)), 0.0)
    + 0.35 * max(dot(n, vec3(0.72524, 0.24175, 0.64466)), 0.0);
  colour = vec4(vColour * (0.34 + 0.8 * lit), 1.0);
}`;

// A hair nearer than the faces that it bounds.
export const edgeVertex = bodyVertex.replace(/}$/, "  gl_Position.z -= 2.0e-5 * gl_Position.w;\n}");

export const edgeFragment = `${HEAD}
in vec3 vPlace;
flat in vec3 vColour;
out vec4 colour;
void main() { colour = vec4(mix(vColour * 0.85, vec3(0.149, 0.165, 0.188), 0.5), 1.0); }`;

export const pickVertex = `${BODY}
flat out int vMember;
void main() {
  int k = int(member + 0.5);
  vMember = k;
  vec4 place = modelViewMatrix * vec4(uLow + uSize * position, 1.0);
  gl_Position = texel(k).a > 0.5 ? projectionMatrix * place : vec4(2.0, 2.0, 2.0, 1.0);
}`;

export const pickFragment = `${HEAD}
flat in int vMember;
layout(location = 0) out vec4 who;
layout(location = 1) out vec4 depth;
void main() {
  who = vec4(float(vMember & 255), float((vMember >> 8) & 255), float(vMember >> 16), 255.0) / 255.0;
  int z = int(gl_FragCoord.z * 16777215.0);
  depth = vec4(float(z >> 16), float((z >> 8) & 255), float(z & 255), 255.0) / 255.0;
}`;

export const ropeVertex = `${HEAD}
uniform mat4 viewMatrix;
uniform mat4 projectionMatrix;
uniform vec2 uViewport;
in vec2 position;
in vec3 start;
in vec3 stop;
in float radius;
void main() {
  vec4 a = projectionMatrix * viewMatrix * vec4(start, 1.0);
  vec4 b = projectionMatrix * viewMatrix * vec4(stop, 1.0);
  vec2 along = (b.xy / b.w - a.xy / a.w) * uViewport;
  float away = length(along);
  vec2 across = away > 1e-6 ? vec2(-along.y, along.x) / away : vec2(1.0, 0.0);
  vec4 place = mix(a, b, position.x);
  float seen = 0.5 * projectionMatrix[1][1] * uViewport.y * radius / place.w;
  float half_ = max(seen, 0.65);
  place.xy += position.y * half_ * across * 2.0 / uViewport * place.w;
  gl_Position = min(a.w, b.w) > 0.05 ? place : vec4(2.0, 2.0, 2.0, 1.0);
}`;

export const plainVertex = `${HEAD}
uniform mat4 modelViewMatrix;
uniform mat4 projectionMatrix;
in vec3 position;
void main() { gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0); }`;

export const plainFragment = `${HEAD}
uniform vec3 uColour;
uniform float uAlpha;
out vec4 colour;
void main() { colour = vec4(uColour / 255.0, uAlpha); }`;
