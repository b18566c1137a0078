"use strict";
// Turns worn garments: every canvas shows one, all of them from the same side and in the same colours.
const garments = JSON.parse(document.getElementById("garments").textContent);
const state = { turn: 0, tilt: 0, zoom: 1, kind: "cloth", flat: false, spots: true };

// blue - pale - orange and pale - blue are told apart with every common colour vision; the figures stand in the legend
const STRAIN = [[-10, "#08306b"], [-5, "#2171b5"], [-2, "#6baed6"], [-1, "#c6dbef"], [0, "#f7f7f4"],
  [1, "#fdd0a2"], [2, "#fd8d3c"], [5, "#d94801"], [10, "#7f2704"]];
const GAP = [[0, "#fff7d6"], [2, "#cde0b0"], [5, "#a9d3c0"], [10, "#5fb0bf"], [20, "#2f7fb0"], [40, "#173f7a"]];
const CLOTH = [0.45, 0.58, 0.74];
const rgb = (hex) => [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16) / 255);

function colour(kind, value) {
  if (kind === "cloth") return CLOTH;
  const stops = kind === "gap" ? GAP : STRAIN;
  if (value <= stops[0][0]) return rgb(stops[0][1]);
  for (let k = 1; k < stops.length; k++) {
    if (value <= stops[k][0]) {
      const t = (value - stops[k - 1][0]) / (stops[k][0] - stops[k - 1][0]);
      const a = rgb(stops[k - 1][1]), b = rgb(stops[k][1]);
      return a.map((x, i) => x + t * (b[i] - x));
    }
  }
  return rgb(stops[stops.length - 1][1]);
}

const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
const VERTEX = `attribute vec3 at; attribute vec3 normal; attribute vec3 colour; uniform mat4 view; uniform mat3 turn;
uniform float near; varying vec3 shade; varying vec3 facing;
void main() { gl_Position = view * vec4(at, 1.0); gl_Position.z -= near; shade = colour; facing = turn * normal; }`;
const FRAGMENT = `precision mediump float; varying vec3 shade; varying vec3 facing; uniform float lit;
void main() { vec3 n = normalize(facing); float light = 0.42 + 0.58 * abs(dot(n, normalize(vec3(-0.35, 0.45, 0.82))));
gl_FragColor = vec4(shade * mix(1.0, light, lit), 1.0); }`;

function program(gl) {
  const made = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(made, shader);
  }
  gl.linkProgram(made);
  return made;
}

class View {
  constructor(canvas) {
    this.canvas = canvas;
    this.gl = canvas.getContext("webgl", { preserveDrawingBuffer: true, antialias: true });
    if (!this.gl || !this.gl.getExtension("OES_element_index_uint")) {
      document.getElementById("trouble").hidden = false;
      this.gl = null;
      return;
    }
    const gl = this.gl, one = garments[Number(canvas.dataset.garment)];
    this.program = program(gl);
    this.one = {};
    for (const name of ["at", "normal", "flat", "warp", "weft", "gap", "form", "formNormal"]) {
      this.one[name] = new Float32Array(bytes(one[name]));
    }
    for (const name of ["triangles", "lines", "formTriangles"]) this.one[name] = new Uint32Array(bytes(one[name]));
    this.spots = one.spots;
    const count = this.one.flat.length / 2;
    this.flatAt = new Float32Array(3 * count);
    for (let k = 0; k < count; k++) this.flatAt.set([this.one.flat[2 * k], this.one.flat[2 * k + 1], 0], 3 * k);
    this.flatNormal = new Float32Array(3 * count).map((_, k) => (k % 3 === 2 ? 1 : 0));
    this.plain = new Float32Array(this.one.form.length).map((_, k) => [0.8, 0.77, 0.71][k % 3]);
    this.black = new Float32Array(3 * count);
    this.labels = this.spots.map(([text, , kind]) => {
      const label = document.createElement("span");
      label.className = `spot ${kind}`;
      label.textContent = text;
      canvas.parentNode.append(label);
      return label;
    });
    this.buffers = {};
  }

  buffer(name, values, target) {
    const gl = this.gl;
    if (!this.buffers[name]) this.buffers[name] = gl.createBuffer();
    gl.bindBuffer(target, this.buffers[name]);
    gl.bufferData(target, values, gl.STATIC_DRAW);
  }

  draw(mode, at, normal, colours, indices, name, lit, near) {
    const gl = this.gl;
    for (const [attribute, values] of [["at", at], ["normal", normal], ["colour", colours]]) {
      const place = gl.getAttribLocation(this.program, attribute);
      this.buffer(name + attribute, values, gl.ARRAY_BUFFER);
      if (place >= 0) {
        gl.enableVertexAttribArray(place);
        gl.vertexAttribPointer(place, 3, gl.FLOAT, false, 0, 0);
      }
    }
    gl.uniform1f(gl.getUniformLocation(this.program, "lit"), lit);
    gl.uniform1f(gl.getUniformLocation(this.program, "near"), near);
    this.buffer(name + "index", indices, gl.ELEMENT_ARRAY_BUFFER);
    gl.drawElements(mode, indices.length, gl.UNSIGNED_INT, 0);
  }

  bounds(at) {
    const box = [[Infinity, -Infinity], [Infinity, -Infinity]];
    for (let k = 0; k < at.length; k += 3) {
      for (const i of [0, 1]) {
        box[i][0] = Math.min(box[i][0], at[k + i]);
        box[i][1] = Math.max(box[i][1], at[k + i]);
      }
    }
    return box;
  }

  // what has to be seen of it: lowest and highest, and how wide, in mm
  span() {
    const at = state.flat ? this.flatAt : this.one.at;
    const box = this.bounds(state.flat ? at : this.one.form), cloth = this.bounds(at);
    const low = Math.min(box[1][0], cloth[1][0]), high = Math.max(box[1][1], cloth[1][1]);
    return {
      low: state.flat ? low : Math.max(low, cloth[1][0] - 160), high,
      wide: state.flat ? cloth[0][1] - cloth[0][0] : 520, across: state.flat ? (cloth[0][0] + cloth[0][1]) / 2 : 0,
    };
  }

  // all: what has to be seen of all garments, which stand side by side in one scale and on one floor
  paint(all) {
    const gl = this.gl;
    if (!gl) return;
    const ratio = window.devicePixelRatio || 1, canvas = this.canvas;
    canvas.width = Math.round(canvas.clientWidth * ratio);
    canvas.height = Math.round(canvas.clientHeight * ratio);
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(1, 1, 1, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.useProgram(this.program);
    const at = state.flat ? this.flatAt : this.one.at;
    const normal = state.flat ? this.flatNormal : this.one.normal;
    const size = 1.06 * Math.max(all.high - all.low, all.wide * canvas.height / canvas.width) / 2 / state.zoom;
    const middle = (all.high + all.low) / 2, across = this.span().across;
    const turn = state.flat ? 0 : state.turn, tilt = state.flat ? 0 : state.tilt;
    const c = Math.cos(turn), s = Math.sin(turn), d = Math.cos(tilt), e = Math.sin(tilt);
    const rows = [[c, 0, s], [e * s, d, -e * c], [-d * s, e, d * c]];
    const sx = canvas.height / canvas.width / size, sy = 1 / size, sz = -1 / 2000;
    const view = [];
    for (let k = 0; k < 3; k++) view.push(rows[0][k] * sx, rows[1][k] * sy, rows[2][k] * sz, 0);
    view.push(-across * sx, -middle * d * sy, 0, 1);
    this.view = view;
    gl.uniformMatrix4fv(gl.getUniformLocation(this.program, "view"), false, view);
    gl.uniformMatrix3fv(gl.getUniformLocation(this.program, "turn"), false,
      [0, 1, 2].flatMap((k) => [rows[0][k], rows[1][k], rows[2][k]]));
    if (!state.flat) {
      this.draw(gl.TRIANGLES, this.one.form, this.one.formNormal, this.plain, this.one.formTriangles, "form", 1, 0);
    }
    const values = this.one[state.kind] || this.one.gap, colours = new Float32Array(at.length);
    for (let k = 0; k < values.length; k++) colours.set(colour(state.kind, values[k]), 3 * k);
    this.draw(gl.TRIANGLES, at, normal, colours, this.one.triangles, "cloth", state.flat ? 0 : 1, 0.0004);
    this.draw(gl.LINES, at, normal, this.black, this.one.lines, "lines", 0, 0.0016);
    this.spots.forEach(([, vertex], k) => {
      const p = [0, 1, 2].map((i) => at[3 * vertex + i]), label = this.labels[k];
      const x = view[0] * p[0] + view[4] * p[1] + view[8] * p[2] + view[12];
      const y = view[1] * p[0] + view[5] * p[1] + view[9] * p[2] + view[13];
      const n = [0, 1, 2].map((i) => this.one.normal[3 * vertex + i]);
      const outward = Math.sign(n[0] * this.one.at[3 * vertex] + n[2] * this.one.at[3 * vertex + 2]) || 1;
      const facing = outward * (rows[2][0] * n[0] + rows[2][1] * n[1] + rows[2][2] * n[2]);
      label.hidden = !state.spots || state.kind === "cloth" || (!state.flat && facing < 0.05);
      label.style.left = `${(x + 1) / 2 * canvas.clientWidth}px`;
      label.style.top = `${(1 - y) / 2 * canvas.clientHeight}px`;
    });
  }
}

const views = [...document.querySelectorAll("canvas")].map((canvas) => new View(canvas));

function legend() {
  const place = document.getElementById("legend");
  place.replaceChildren();
  if (state.kind === "cloth") return;
  const stops = state.kind === "gap" ? GAP : STRAIN;
  for (const [value, hex] of stops) {
    const part = document.createElement("span");
    part.style.background = hex;
    const [r, g, b] = rgb(hex);
    part.style.color = 0.3 * r + 0.59 * g + 0.11 * b > 0.5 ? "#000" : "#fff";
    part.textContent = state.kind === "gap" ? `${value} mm` : `${value > 0 ? "+" : ""}${value} %`;
    place.append(part);
  }
}

function paint() {
  for (const button of document.querySelectorAll("[data-kind]")) {
    button.setAttribute("aria-pressed", String(button.dataset.kind === state.kind));
  }
  document.querySelector("[data-flat]").setAttribute("aria-pressed", String(state.flat));
  document.querySelector("[data-spots]").setAttribute("aria-pressed", String(state.spots));
  legend();
  const spans = views.filter((view) => view.gl).map((view) => view.span());
  const all = {
    low: Math.min(...spans.map((s) => s.low)), high: Math.max(...spans.map((s) => s.high)),
    wide: Math.max(...spans.map((s) => s.wide)),
  };
  views.forEach((view) => view.paint(all));
  document.body.dataset.shown = `${state.kind} ${Math.round(state.turn * 180 / Math.PI)} ${state.flat ? "flat" : "worn"}`;
}

const LOOKS = { front: 0, side: Math.PI / 2, back: Math.PI };
const KINDS = ["cloth", "warp", "weft", "gap"];
const KEYS = {
  ArrowLeft: () => { state.turn -= Math.PI / 12; }, ArrowRight: () => { state.turn += Math.PI / 12; },
  ArrowUp: () => { state.tilt = Math.min(state.tilt + 0.1, 1.4); },
  ArrowDown: () => { state.tilt = Math.max(state.tilt - 0.1, -1.4); },
  f: () => { state.turn = LOOKS.front; state.tilt = 0; }, s: () => { state.turn = LOOKS.side; state.tilt = 0; },
  b: () => { state.turn = LOOKS.back; state.tilt = 0; }, p: () => { state.flat = !state.flat; },
  n: () => { state.spots = !state.spots; }, "+": () => { state.zoom *= 1.2; }, "-": () => { state.zoom /= 1.2; },
};
KINDS.forEach((kind, k) => { KEYS[String(k + 1)] = () => { state.kind = kind; }; });

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const act = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act) return;
  event.preventDefault();
  act();
  paint();
});
document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.look) { state.turn = LOOKS[button.dataset.look]; state.tilt = 0; }
  if (button.dataset.kind) state.kind = button.dataset.kind;
  if (button.dataset.flat) state.flat = !state.flat;
  if (button.dataset.spots) state.spots = !state.spots;
  if (button.dataset.zoom) state.zoom *= Number(button.dataset.zoom);
  paint();
});
for (const { canvas } of views) {
  canvas.addEventListener("pointermove", (event) => {
    if (!event.buttons) return;
    state.turn += event.movementX / 150;
    state.tilt = Math.max(-1.4, Math.min(1.4, state.tilt + event.movementY / 200));
    paint();
  });
  canvas.addEventListener("pointerdown", (event) => canvas.setPointerCapture(event.pointerId));
}
window.addEventListener("resize", paint);
for (const [key, value] of new URLSearchParams(location.hash.slice(1))) {
  if (key === "kind" && KINDS.includes(value)) state.kind = value;
  if (key === "look" && value in LOOKS) state.turn = LOOKS[value];
  if (key === "flat") state.flat = value === "1";
}
paint();
