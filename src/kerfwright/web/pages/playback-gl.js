/* Draws burned lines with WebGL 2: every move is a narrow rectangle, made on the graphics processor from
   where it begins and ends. What is drawn stays, so that playing draws only what is new. */

const SHADER = `#version 300 es
precision highp float;
in vec2 corner; in vec2 begin; in vec2 end; in float phase; in float value; in float process; in float kind; in float power;
uniform vec2 size; uniform vec2 offset; uniform float scale; uniform float pixel; uniform bool ramped; uniform bool travel;
uniform float widths[5]; uniform vec3 ramp[24]; uniform vec3 ink; uniform vec3 soft; uniform float strongest;
out vec4 colour; out float along; out vec2 dash;
void main() {
  bool idle = kind < 1.5 || power <= 0.0;
  if (idle && !travel) { gl_Position = vec4(2.0, 2.0, 2.0, 1.0); return; }
  vec2 a = offset + scale * vec2(begin.x, -begin.y), b = offset + scale * vec2(end.x, -end.y);
  float far = distance(a, b);
  vec2 ahead = far > 0.0 ? (b - a) / far : vec2(1.0, 0.0);
  bool rows = process > 2.5;
  float real = widths[int(process + 0.5)] * scale;
  float least = pixel * (idle ? 0.9 : rows ? 1.0 : 1.5);
  float wide = idle ? least : max(real, least);
  float cap = idle || rows ? 0.0 : 0.5 * wide;
  float place = corner.x * (far + 2.0 * cap) - cap;
  vec2 at = a + ahead * place + vec2(-ahead.y, ahead.x) * corner.y * 0.5 * wide;
  gl_Position = vec4(2.0 * at.x / size.x - 1.0, 1.0 - 2.0 * at.y / size.y, 0.0, 1.0);
  along = phase * scale + place;
  dash = idle ? pixel * (kind > 0.5 ? vec2(1.0, 3.0) : vec2(4.0, 4.0))
    : process > 1.5 && process < 2.5 ? pixel * vec2(6.0, 3.5) : vec2(0.0);
  float strength = rows ? min(real / least, 1.0) : 1.0;
  vec3 tone = ink;
  if (ramped) {
    float step = clamp(value, 0.0, 1.0) * 23.0;
    int low = int(min(step, 22.0));
    tone = mix(ramp[low], ramp[low + 1], step - float(low));
  } else if (process > 3.5) strength *= 0.85 * power / strongest;
  else if (rows) strength *= 0.6;
  if (idle) { tone = soft; strength = kind > 0.5 ? 0.2 : 0.75; }
  colour = vec4(tone * strength, strength);
}`;

const PIXELS = `#version 300 es
precision highp float;
in vec4 colour; in float along; in vec2 dash; out vec4 shown;
void main() {
  if (dash.x > 0.0 && mod(along, dash.x + dash.y) > dash.x) discard;
  shown = colour;
}`;

const CORNERS = new Float32Array([0, -1, 1, -1, 0, 1, 1, 1]);

const SOFTWARE = /swiftshader|llvmpipe|softpipe|basic render|software/i;

/* Asked of a canvas of its own, since one that had WebGL gives no plain pen. */
function inSoftware() {
  const gl = document.createElement("canvas").getContext("webgl2", { failIfMajorPerformanceCaveat: true });
  if (!gl) return true;
  const named = gl.getExtension("WEBGL_debug_renderer_info");
  const renderer = String(gl.getParameter(named ? named.UNMASKED_RENDERER_WEBGL : gl.RENDERER));
  gl.getExtension("WEBGL_lose_context")?.loseContext();
  return SOFTWARE.test(renderer);
}

export class GlLines {
  /* Null where there is no WebGL 2, or only one worked out in software: a plain canvas is quicker then. */
  static on(canvas, moves, playback, { lost, software }) {
    if (!software && inSoftware()) return null;
    const gl = canvas.getContext("webgl2", { alpha: true, antialias: true, preserveDrawingBuffer: true, premultipliedAlpha: true });
    if (!gl) return null;
    canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      lost();
    });
    return new GlLines(gl, moves, playback);
  }

  constructor(gl, moves, playback) {
    this.gl = gl;
    this.moves = moves;
    this.playback = playback;
    this.program = linked(gl);
    gl.useProgram(this.program);
    this.places = new Map();
    this.buffers = new Map([["corner", this.buffer(CORNERS)], ["points", this.buffer(moves.points)], ["phase", this.buffer(moves.phases())],
      ["process", this.buffer(moves.process)], ["kind", this.buffer(moves.kind)], ["power", this.buffer(moves.power)]]);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.clearColor(0, 0, 0, 0);
    this.value = null;
  }

  get atOnce() {
    return 250000;
  }

  buffer(data) {
    const buffer = this.gl.createBuffer();
    this.gl.bindBuffer(this.gl.ARRAY_BUFFER, buffer);
    this.gl.bufferData(this.gl.ARRAY_BUFFER, data, this.gl.STATIC_DRAW);
    return buffer;
  }

  place(name) {
    if (!this.places.has(name)) this.places.set(name, this.gl.getUniformLocation(this.program, name));
    return this.places.get(name);
  }

  /* view = {wide, high, scale, x, y, ratio} in CSS pixels; look = {values, ramp, ink, soft, travel}. */
  begin(view, look) {
    const gl = this.gl;
    gl.viewport(0, 0, gl.drawingBufferWidth, gl.drawingBufferHeight);
    gl.uniform2f(this.place("size"), gl.drawingBufferWidth, gl.drawingBufferHeight);
    gl.uniform2f(this.place("offset"), view.x * view.ratio, (view.y + this.playback.height_mm * view.scale) * view.ratio);
    gl.uniform1f(this.place("scale"), view.scale * view.ratio);
    gl.uniform1f(this.place("pixel"), view.ratio);
    gl.uniform1i(this.place("ramped"), look.values ? 1 : 0);
    gl.uniform1i(this.place("travel"), look.travel ? 1 : 0);
    gl.uniform1fv(this.place("widths"), look.widths);
    gl.uniform3fv(this.place("ramp"), look.ramp.flat());
    gl.uniform3fv(this.place("ink"), look.ink);
    gl.uniform3fv(this.place("soft"), look.soft);
    gl.uniform1f(this.place("strongest"), look.strongest);
    if (look.values !== this.shownValues) {
      if (this.value) gl.deleteBuffer(this.value);
      this.value = look.values ? this.buffer(look.values) : null;
      this.shownValues = look.values;
    }
    gl.clear(gl.COLOR_BUFFER_BIT);
  }

  /* Draws moves from..to on top of what is there. */
  draw(from, to) {
    if (to <= from) return;
    const gl = this.gl;
    this.attribute("corner", this.buffers.get("corner"), 2, gl.FLOAT, 0, 0);
    const points = this.buffers.get("points");
    this.attribute("begin", points, 2, gl.FLOAT, 8 * from, 1);
    this.attribute("end", points, 2, gl.FLOAT, 8 * (from + 1), 1);
    this.attribute("phase", this.buffers.get("phase"), 1, gl.FLOAT, 4 * from, 1);
    this.attribute("process", this.buffers.get("process"), 1, gl.UNSIGNED_BYTE, from, 1);
    this.attribute("kind", this.buffers.get("kind"), 1, gl.UNSIGNED_BYTE, from, 1);
    this.attribute("power", this.buffers.get("power"), 1, gl.UNSIGNED_SHORT, 2 * from, 1, true);
    this.attribute("value", this.value ?? this.buffers.get("phase"), 1, gl.FLOAT, 4 * from, 1);
    gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, to - from);
  }

  attribute(name, buffer, width, kind, offset, each, share = false) {
    const gl = this.gl;
    const at = gl.getAttribLocation(this.program, name);
    if (at < 0) return;
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.enableVertexAttribArray(at);
    gl.vertexAttribPointer(at, width, kind, share, 0, offset);
    gl.vertexAttribDivisor(at, each);
  }

  /* How many moves are drawn already when the picture is to show no more than so many. */
  back() {
    this.gl.clear(this.gl.COLOR_BUFFER_BIT);
    return 0;
  }

  mark() {}

  free() {
    this.gl.getExtension("WEBGL_lose_context")?.loseContext();
  }
}

function linked(gl) {
  const program = gl.createProgram();
  for (const [kind, source] of [[gl.VERTEX_SHADER, SHADER], [gl.FRAGMENT_SHADER, PIXELS]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program) ?? "No shader.");
  return program;
}
