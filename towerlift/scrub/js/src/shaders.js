// Two lamps over the viewer's left shoulder, flat faces: the light of the Python pictures.

const HEAD = `precision highp float;
precision highp int;
`;

const PLACE = `${HEAD}
uniform mat4 modelViewMatrix;
uniform mat4 projectionMatrix;
uniform vec3 uLow;
uniform vec3 uSize;
in vec3 position;
`;
const HIDDEN = "vec4(2.0, 2.0, 2.0, 1.0)";

// What a processor draws most is drawn with least: four bytes of colour at each corner, the
// last of them whether it is seen.
const facesVertex = `${PLACE}
in uint colour;
out vec3 vPlace;
flat out uint vColour;
void main() {
  vec4 place = modelViewMatrix * vec4(uLow + uSize * position, 1.0);
  vPlace = place.xyz;
  vColour = colour;
  gl_Position = colour > 0xffffffu ? projectionMatrix * place : ${HIDDEN};
}`;

const LIT = `
vec3 lit(vec3 plain, vec3 place) {
  vec3 n = normalize(cross(dFdx(place), dFdy(place)));
  float light = 0.75 * max(dot(n, vec3(-0.46154, 0.59341, 0.65934)), 0.0)
    + 0.35 * max(dot(n, vec3(0.72524, 0.24175, 0.64466)), 0.0);
  return plain * (0.34 + 0.8 * light);
}
`;

const facesFragment = `${HEAD}
in vec3 vPlace;
flat in uint vColour;
out vec4 colour;
${LIT}
void main() {
  vec3 plain = vec3(uvec3(vColour, vColour >> 8, vColour >> 16) & 255u) / 255.0;
  colour = vec4(lit(plain, vPlace), 1.0);
}`;

const BODY = `${PLACE}
uniform highp sampler2D uPalette;
in float member;
vec4 texel(int k) { return texelFetch(uPalette, ivec2(k & 255, k >> 8), 0); }
`;

const markVertex = `${BODY}
out vec3 vPlace;
flat out vec3 vColour;
void main() {
  vec4 colour = texel(int(member + 0.5));
  vec4 place = modelViewMatrix * vec4(uLow + uSize * position, 1.0);
  vPlace = place.xyz;
  vColour = colour.rgb;
  gl_Position = colour.a > 0.5 ? projectionMatrix * place : ${HIDDEN};
}`;

const markFragment = `${HEAD}
in vec3 vPlace;
flat in vec3 vColour;
out vec4 colour;
${LIT}
void main() { colour = vec4(lit(vColour, vPlace), 1.0); }`;

// A hair nearer than the faces that it bounds.
const edgeVertex = markVertex.replace(/}$/, "  gl_Position.z -= 2.0e-5 * gl_Position.w;\n}");

const edgeFragment = `${HEAD}
in vec3 vPlace;
flat in vec3 vColour;
out vec4 colour;
void main() { colour = vec4(mix(vColour * 0.85, vec3(0.149, 0.165, 0.188), 0.5), 1.0); }`;

const pickVertex = `${BODY}
flat out int vMember;
void main() {
  int k = int(member + 0.5);
  vMember = k;
  vec4 place = modelViewMatrix * vec4(uLow + uSize * position, 1.0);
  gl_Position = texel(k).a > 0.5 ? projectionMatrix * place : ${HIDDEN};
}`;

const pickFragment = `${HEAD}
flat in int vMember;
layout(location = 0) out vec4 who;
layout(location = 1) out vec4 depth;
void main() {
  who = vec4(float(vMember & 255), float((vMember >> 8) & 255), float(vMember >> 16), 255.0) / 255.0;
  int z = int(gl_FragCoord.z * 16777215.0);
  depth = vec4(float(z >> 16), float((z >> 8) & 255), float(z & 255), 255.0) / 255.0;
}`;

export const body = {
  faces: { vertex: facesVertex, fragment: facesFragment },
  marks: { vertex: markVertex, fragment: markFragment },
  edges: { vertex: edgeVertex, fragment: edgeFragment },
  pick: { vertex: pickVertex, fragment: pickFragment },
};

export const keptVertex = `${HEAD}
in vec2 position;
void main() { gl_Position = vec4(position, 0.0, 1.0); }`;

export const keptFragment = `${HEAD}
uniform highp sampler2D uColours;
uniform highp sampler2D uDepths;
out vec4 colour;
void main() {
  ivec2 here = ivec2(gl_FragCoord.xy);
  colour = texelFetch(uColours, here, 0);
  gl_FragDepth = texelFetch(uDepths, here, 0).r;
}`;

export const printVertex = `${HEAD}
uniform vec4 uRect;
uniform vec2 uViewport;
in vec2 position;
void main() { gl_Position = vec4(2.0 * (uRect.xy + uRect.zw * position) / uViewport - 1.0, 0.0, 1.0); }`;

export const printFragment = `${HEAD}
uniform highp sampler2D uColours;
uniform highp sampler2D uDepths;
uniform vec4 uRect;
uniform float uDepth;
out vec4 colour;
void main() {
  ivec2 here = ivec2(gl_FragCoord.xy) - ivec2(uRect.xy);
  float depth = texelFetch(uDepths, here, 0).r;
  if (depth == 1.0) discard;
  colour = texelFetch(uColours, here, 0);
  gl_FragDepth = depth + uDepth;
}`;

export const fineFragment = `${HEAD}
uniform highp sampler2D uColours;
out vec4 colour;
void main() {
  ivec2 here = 2 * ivec2(gl_FragCoord.xy);
  colour = 0.25 * (texelFetch(uColours, here, 0) + texelFetch(uColours, here + ivec2(1, 0), 0)
    + texelFetch(uColours, here + ivec2(0, 1), 0) + texelFetch(uColours, here + ivec2(1, 1), 0));
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
  gl_Position = min(a.w, b.w) > 0.05 ? place : ${HIDDEN};
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
