/* One sheet as its beam is played: the sheet below, what is burned on it, the beam above. */

import { h } from "./ui.js";
import { FlatLines } from "./playback-flat.js";
import { GlLines } from "./playback-gl.js";
import { Ground } from "./playback-ground.js";
import { Near } from "./playback-pick.js";
import { Sight } from "./playback-sight.js";

const REACH_PX = 8;
const BUDGET_MS = 10;
const SPOT_PX = 5;
const dark = window.matchMedia("(prefers-color-scheme: dark)");

export class SheetView {
  /* loaded = {playback, moves}; draw is "plain" for no WebGL and
     "webgl" for any, also a slow one; told(move) is called with what is pointed at, -1 for nothing; chosen(move) when it is clicked. */
  constructor(loaded, { name, draw = "", told = () => {}, chosen = () => {} }) {
    Object.assign(this, loaded, { draw, told });
    this.near = new Near(this.moves);
    this.time_s = 0;
    this.drawn = 0;
    this.marked = -1;
    this.look = { by: "process", travel: true };
    this.ground = h("canvas", { role: "img", "aria-label": name });
    this.burned = h("canvas", { "aria-hidden": "true" });
    this.above = h("canvas", { "aria-hidden": "true" });
    this.stage = h("div", { class: "play-stage", tabindex: "0", role: "group", "aria-label": `${name}. Arrow keys move the picture, plus and minus enlarge it, 0 shows all.` },
      this.ground, this.burned, this.above);
    this.stage.style.setProperty("--wide", String(this.playback.width_mm));
    this.stage.style.setProperty("--high", String(this.playback.height_mm));
    this.sheet = new Ground(this.ground, this.playback);
    this.sight = new Sight(this.stage, this.playback, {
      moved: () => this.soon(),
      pointed: (x, y) => this.point(this.find(x, y)),
      left: () => this.point(-1),
      clicked: (x, y) => chosen(this.find(x, y)),
    });
    this.energy = null;
    this.lines = this.renderer();
    this.sized = new ResizeObserver(() => this.resize());
    this.sized.observe(this.stage);
    this.closing = new AbortController();
    dark.addEventListener("change", () => this.redraw(), { signal: this.closing.signal });
  }

  /* "webgl" or "canvas": what draws the lines. */
  get drawnBy() {
    return this.lines instanceof GlLines ? "webgl" : "canvas";
  }

  renderer() {
    const gl = this.draw === "plain" ? null
      : GlLines.on(this.burned, this.moves, this.playback, { lost: () => this.fallBack(), software: this.draw === "webgl" });
    const lines = gl ?? new FlatLines(this.burned, this.moves, this.playback);
    this.stage.dataset.drawnBy = lines instanceof GlLines ? "webgl" : "canvas";
    return lines;
  }

  /* Another canvas: one that had WebGL gives no plain pen. */
  fallBack() {
    if (this.closing.signal.aborted) return;
    const canvas = h("canvas", { "aria-hidden": "true" });
    this.burned.replaceWith(canvas);
    this.burned = canvas;
    this.draw = "plain";
    this.lines = this.renderer();
    this.resize();
  }

  resize() {
    const { clientWidth, clientHeight } = this.stage;
    if (clientWidth === 0) return;
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    for (const canvas of [this.ground, this.burned, this.above]) {
      canvas.width = Math.round(clientWidth * ratio);
      canvas.height = Math.round(clientHeight * ratio);
    }
    this.sight.size(clientWidth, clientHeight, ratio);
    this.redraw();
  }

  setLook(look) {
    Object.assign(this.look, look);
    this.redraw();
  }

  /* Once a frame is enough, however often a pointer moves. */
  soon() {
    if (this.asked) return;
    this.asked = requestAnimationFrame(() => {
      this.asked = 0;
      this.redraw();
    });
  }

  /* Everything anew: another size, sight or look. */
  redraw() {
    if (!this.sight.view) return;
    this.paint = this.painted();
    this.lines.begin(this.sight.view, this.paint);
    this.drawn = 0;
    this.sheet.draw(this.sight.view, this.time_s, true);
    this.catchUp();
  }

  painted() {
    const style = getComputedStyle(this.stage);
    const ramp = this.playback.colours[dark.matches ? "dark" : "light"].map(parts);
    const colour = (name) => parts(style.getPropertyValue(name).trim());
    return {
      spot: style.getPropertyValue("--play-spot"), ground: style.getPropertyValue("--sheet"), values: this.values(), ramp, ink: colour("--sheet-ink"), soft: colour("--play-travel"), travel: this.look.travel,
      widths: this.playback.processes.slice(0, 5).map((one) => this.playback.widths_mm[one] ?? 0.1),
      strongest: this.strongest(), css: (one, alpha) => `rgb(${one.map((c) => Math.round(255 * c)).join(" ")} / ${alpha})`,
    };
  }

  values() {
    const { by } = this.look;
    if (by === "process") return null;
    if (by === "energy") return (this.energy ??= this.moves.energyShares()).shares;
    const total = this.moves.total_s || 1;
    return (this.times ??= Float32Array.from(this.moves.end_s, (one) => one / total));
  }

  strongest() {
    if (this.most === undefined) {
      const photo = this.playback.processes.indexOf("photo");
      this.most = this.moves.process.reduce((most, process, move) => (process === photo ? Math.max(most, this.moves.power[move]) : most), 0) / 65535 || 1;
    }
    return this.most;
  }

  show(time_s) {
    this.time_s = time_s;
    if (this.sight.view) this.catchUp();
  }

  /* Draws what is missing, for no longer than a frame has room; the rest comes with the next frames. */
  catchUp() {
    const over = this.moves.over(this.time_s);
    if (over < this.drawn) this.drawn = this.lines.back(over);
    const until = performance.now() + BUDGET_MS;
    while (this.drawn < over) {
      const to = Math.min(this.drawn + this.lines.atOnce, over);
      this.lines.draw(this.drawn, to);
      this.drawn = to;
      this.lines.mark(to);
      if (performance.now() > until) break;
    }
    if (this.drawn < over) this.later();
    this.stage.dataset.drawn = String(this.drawn);
    this.sheet.draw(this.sight.view, this.time_s, false);
    this.drawAbove();
  }

  later() {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      this.catchUp();
    });
  }

  drawAbove() {
    const { view } = this.sight;
    const pen = this.above.getContext("2d");
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, this.above.width, this.above.height);
    pen.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
    const beam = this.moves.at(this.time_s);
    if (this.marked >= 0) this.drawMarked(pen);
    const [x, y] = this.sight.px(beam.x, beam.y);
    if (beam.move < this.moves.count && !beam.standing) this.drawMoving(pen, beam, x, y);
    const burning = beam.move < this.moves.count && this.moves.burns(beam.move);
    pen.beginPath();
    pen.arc(x, y, SPOT_PX, 0, 2 * Math.PI);
    pen.lineWidth = 2;
    pen.strokeStyle = this.paint.spot;
    pen.fillStyle = burning ? this.paint.spot : this.paint.ground;
    pen.fill();
    pen.stroke();
  }

  drawMoving(pen, beam, x, y) {
    const burning = this.moves.burns(beam.move);
    if (!burning && !this.look.travel) return;
    const p = this.moves.points;
    pen.beginPath();
    pen.moveTo(...this.sight.px(p[2 * beam.move], p[2 * beam.move + 1]));
    pen.lineTo(x, y);
    const value = this.paint.values?.[beam.move];
    const colour = !burning ? this.paint.soft : value === undefined ? this.paint.ink : this.paint.ramp[Math.round(value * (this.paint.ramp.length - 1))];
    pen.strokeStyle = this.paint.css(colour, 1);
    pen.lineWidth = burning ? 1.5 : 0.9;
    pen.setLineDash(burning ? [] : [4, 4]);
    pen.stroke();
    pen.setLineDash([]);
  }

  drawMarked(pen) {
    const p = this.moves.points;
    const from = this.sight.px(p[2 * this.marked], p[2 * this.marked + 1]);
    const to = this.sight.px(p[2 * this.marked + 2], p[2 * this.marked + 3]);
    for (const [wide, colour] of [[7, this.paint.ground], [4, this.paint.spot]]) {
      pen.beginPath();
      pen.moveTo(...from);
      pen.lineTo(to[0] + 0.01, to[1]);
      pen.lineCap = "round";
      pen.lineWidth = wide;
      pen.strokeStyle = colour;
      pen.stroke();
    }
  }

  find(x, y) {
    const [mmX, mmY] = this.sight.mm(x, y);
    const counts = (move) => this.moves.burns(move) || (this.look.travel && this.moves.length_mm(move) > 0);
    const over = this.moves.over(this.time_s);
    const burned = this.near.find(mmX, mmY, REACH_PX / this.sight.view.scale, over, (move) => this.moves.burns(move));
    return burned >= 0 ? burned : this.near.find(mmX, mmY, REACH_PX / this.sight.view.scale, over, counts);
  }

  point(move) {
    if (move === this.marked) return;
    this.marked = move;
    this.told(move);
    this.drawAbove();
  }

  close() {
    this.closing.abort();
    this.sized.disconnect();
    this.lines.free();
  }
}

function parts(hex) {
  const number = parseInt(hex.slice(1), 16);
  return [(number >> 16) / 255, ((number >> 8) & 255) / 255, (number & 255) / 255];
}
