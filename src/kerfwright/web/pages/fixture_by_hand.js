/* Pockets drawn by hand on a board: rectangles and circles by pointer, keys and numbers, snapped to a step. */

import { pocketsPicture } from "./fixture_picture.js";
import { fill, h, s, say } from "./ui.js";

const ROUND = 48;

const middle = (points) => [0, 1].map((axis) => {
  const values = points.map((one) => one[axis]);
  return (Math.min(...values) + Math.max(...values)) / 2;
});

/* Corners of a pocket on the board; a circle as many of them. */
export function ringOf(pocket) {
  const [x, y] = pocket.centre_mm;
  if (pocket.points) return pocket.points.map(([px, py]) => [px + x, py + y]);
  if (pocket.diameter_mm) return Array.from({ length: ROUND }, (_, n) => { const turn = 2 * Math.PI * n / ROUND; return [x + Math.cos(turn) * pocket.diameter_mm / 2, y + Math.sin(turn) * pocket.diameter_mm / 2]; });
  const [w, d] = [pocket.width_mm / 2, pocket.height_mm / 2];
  return [[x - w, y - d], [x + w, y - d], [x + w, y + d], [x - w, y + d]];
}

/* Single pockets of a fixture that says them in a grid, by corners or one by one; null for those of a drawing. */
export function placedOf(described) {
  const { grid, pockets, placed, drawing } = described;
  if (drawing) return null;
  if (placed) return placed.map((one) => ({ ...one }));
  if (pockets) return pockets.map((ring) => { const [x, y] = middle(ring); return { centre_mm: [x, y], points: ring.map(([px, py]) => [px - x, py - y]) }; });
  if (!grid) return [];
  const { columns, rows = 1, first_mm: [x, y], pitch_mm: [dx, dy] = [0, 0], ...shape } = grid;
  return Array.from({ length: columns * rows }, (_, n) => ({ centre_mm: [x + (n % columns) * dx, y + Math.floor(n / columns) * dy], ...shape }));
}

const kindOf = (pocket) => (pocket.points ? "outline" : pocket.diameter_mm ? "circle" : "rectangle");

/* board() gives [width, height]; changed() is called after every change of pockets. */
export class ByHand {
  constructor(pockets, board, changed) {
    Object.assign(this, { pockets, board, changed, chosen: null, tool: "move" });
    this.step = h("input", { type: "number", class: "short", min: 0.1, step: "any", value: 1, required: true });
    this.picture = h("div", {});
    this.numbers = h("div", { class: "row" });
    const tool = (value, words) => h("label", { class: "beside" }, h("input", { type: "radio", name: `tool-${++ByHand.made}`, checked: value === this.tool, onchange: () => this.take(value) }), h("span", {}, words));
    this.tools = new Map([["move", tool("move", "Choose and move")], ["rectangle", tool("rectangle", "Draw rectangles")], ["circle", tool("circle", "Draw circles")]]);
    for (const one of this.tools.values()) one.querySelector("input").name = `tool-${ByHand.made}`;
    this.element = h("div", { class: "by-hand" },
      h("div", { class: "row", role: "radiogroup", "aria-label": "What the pointer does" }, [...this.tools.values()]),
      this.picture,
      h("div", { class: "row" }, h("label", {}, h("span", {}, "Snapped to steps of, in mm"), this.step),
        h("button", { type: "button", onclick: () => this.add("rectangle") }, "Add a rectangle"),
        h("button", { type: "button", onclick: () => this.add("circle") }, "Add a circle")),
      this.numbers,
      h("p", { class: "small soft" }, "Draw or drag with the pointer. With the keyboard: Tab to a pocket, arrows move it by a step (Shift: ten), Delete removes it."));
    this.draw();
  }

  static made = 0;

  take(tool) {
    this.tool = tool;
    this.tools.get(tool).querySelector("input").checked = true;
    this.svg.classList.toggle("drawing", tool !== "move");
  }

  snap(value) {
    const step = Number(this.step.value) > 0 ? Number(this.step.value) : 1;
    return Number((Math.round(value / step) * step).toFixed(3));
  }

  inside([x, y]) {
    const [width, height] = this.board();
    return [Math.min(Math.max(x, 0), width), Math.min(Math.max(y, 0), height)].map((value) => this.snap(value));
  }

  draw({ focus = false } = {}) {
    const [width, height] = this.board();
    const shown = this.pockets.map((pocket, n) => ({ number: n + 1, ring: ringOf(pocket), in_use: true }));
    const picture = pocketsPicture([0, 0, width, height], shown, { label: `The board with ${this.pockets.length} pockets`, className: "by-hand-board" });
    Object.assign(this, { svg: picture.svg, point: picture.point, over: picture.over });
    this.groups = [...picture.svg.querySelectorAll(".pocket")];
    this.groups.forEach((group, n) => this.listen(group, n));
    this.svg.classList.toggle("drawing", this.tool !== "move");
    this.svg.addEventListener("pointerdown", (event) => this.down(event));
    fill(this.picture, picture.svg);
    this.choose(this.chosen !== null && this.chosen < this.pockets.length ? this.chosen : null);
    if (focus) this.groups[this.chosen]?.focus();
  }

  listen(group, n) {
    const pocket = this.pockets[n];
    group.setAttribute("tabindex", "0");
    group.setAttribute("role", "button");
    group.setAttribute("aria-label", `${kindOf(pocket)} at ${pocket.centre_mm.join(", ")} mm`);
    group.addEventListener("focus", () => this.choose(n));
    group.addEventListener("keydown", (event) => this.key(event, n));
  }

  key(event, n) {
    const far = (Number(this.step.value) || 1) * (event.shiftKey ? 10 : 1);
    const ways = { ArrowLeft: [-far, 0], ArrowRight: [far, 0], ArrowUp: [0, far], ArrowDown: [0, -far] };
    if (ways[event.key]) this.moveTo(n, this.pockets[n].centre_mm.map((value, axis) => Number((value + ways[event.key][axis]).toFixed(3))));
    else if (event.key === "Delete" || event.key === "Backspace") this.remove(n);
    else return;
    event.preventDefault();
  }

  moveTo(n, centre) {
    this.pockets[n].centre_mm = centre;
    this.chosen = n;
    this.draw({ focus: true });
    say(`At ${centre.join(", ")} mm.`);
    this.changed();
  }

  remove(n) {
    this.pockets.splice(n, 1);
    this.chosen = this.pockets.length ? Math.min(n, this.pockets.length - 1) : null;
    this.draw({ focus: true });
    say("The pocket was removed.");
    this.changed();
  }

  add(kind) {
    const [width, height] = this.board();
    const size = Math.max(this.snap(Math.min(width, height) / 4), 1);
    const pocket = { centre_mm: this.inside([width / 2, height / 2]) };
    Object.assign(pocket, kind === "circle" ? { diameter_mm: size } : { width_mm: size, height_mm: size });
    this.put(pocket);
  }

  put(pocket) {
    this.chosen = this.pockets.push(pocket) - 1;
    this.draw({ focus: true });
    this.changed();
  }

  choose(n) {
    this.chosen = n;
    this.groups.forEach((group, other) => group.setAttribute("aria-pressed", String(other === n)));
    if (n === null) {
      fill(this.numbers, h("p", { class: "small soft" }, this.pockets.length ? "Choose a pocket to give its place and size in numbers." : "No pocket yet."));
      return;
    }
    const pocket = this.pockets[n];
    const number = (words, value, put, least = null) => h("label", {}, h("span", {}, words), h("input", { type: "number", class: "short", step: "any", min: least, required: true, id: `by-hand-${words}`, value,
      onchange: (event) => { if (event.target.reportValidity()) { put(Number(event.target.value)); this.draw(); this.changed(); } } }));
    const size = (key, words) => number(words, pocket[key], (value) => { pocket[key] = value; }, 0.1);
    const at = (axis, words) => number(words, pocket.centre_mm[axis], (value) => { pocket.centre_mm = pocket.centre_mm.map((old, n) => (n === axis ? value : old)); });
    fill(this.numbers, at(0, "Centre x in mm"), at(1, "Centre y in mm"),
      kindOf(pocket) === "circle" ? size("diameter_mm", "Diameter in mm") : null,
      kindOf(pocket) === "rectangle" ? [size("width_mm", "Pocket’s width in mm"), size("height_mm", "Pocket’s height in mm"), number("Corners’ radius in mm", pocket.corner_mm ?? 0, (value) => { if (value) pocket.corner_mm = value; else delete pocket.corner_mm; }, 0)] : null,
      h("button", { type: "button", onclick: () => this.remove(n) }, "Remove this pocket"));
  }

  down(event) {
    if (event.button !== 0) return;
    const n = this.groups.findIndex((group) => group.contains(event.target));
    if (this.tool === "move" && n < 0) return;
    event.preventDefault();
    const from = this.point(event);
    if (this.tool === "move") this.drag(event, n, from);
    else this.sketch(event, this.inside(from));
  }

  drag(event, n, from) {
    const start = this.pockets[n].centre_mm;
    let centre = start;
    this.groups[n].focus();
    this.follow(event, (x, y) => {
      centre = [this.snap(start[0] + x - from[0]), this.snap(start[1] + y - from[1])];
      this.groups[n].setAttribute("transform", `translate(${centre[0] - start[0]} ${centre[1] - start[1]})`);
    }, () => { if (centre !== start) this.moveTo(n, centre); });
  }

  sketch(event, from) {
    const circle = this.tool === "circle";
    const ghost = s(circle ? "circle" : "rect", { class: "ghost" });
    let size = null;
    this.over.append(ghost);
    this.follow(event, (x, y) => {
      const to = this.inside([x, y]);
      const [x0, x1] = [from[0], to[0]].sort((a, b) => a - b);
      const [y0, y1] = [from[1], to[1]].sort((a, b) => a - b);
      if (circle) {
        const diameter = 2 * this.snap(Math.hypot(to[0] - from[0], to[1] - from[1]));
        size = diameter > 0 ? { centre_mm: from, diameter_mm: diameter } : null;
        for (const [name, value] of Object.entries({ cx: from[0], cy: from[1], r: diameter / 2 })) ghost.setAttribute(name, value);
      } else {
        size = x1 > x0 && y1 > y0 ? { centre_mm: [(x0 + x1) / 2, (y0 + y1) / 2], width_mm: Number((x1 - x0).toFixed(3)), height_mm: Number((y1 - y0).toFixed(3)) } : null;
        for (const [name, value] of Object.entries({ x: x0, y: y0, width: x1 - x0, height: y1 - y0 })) ghost.setAttribute(name, value);
      }
    }, () => { ghost.remove(); if (size) this.put(size); });
  }

  /* Calls moved(x, y) in mm until the pointer lets go, then done(). */
  follow(event, moved, done) {
    const { svg } = this;
    svg.setPointerCapture(event.pointerId);
    const move = (next) => moved(...this.point(next));
    const end = () => {
      svg.removeEventListener("pointermove", move);
      svg.removeEventListener("pointerup", end);
      svg.removeEventListener("pointercancel", end);
      done();
    };
    svg.addEventListener("pointermove", move);
    svg.addEventListener("pointerup", end);
    svg.addEventListener("pointercancel", end);
  }
}
