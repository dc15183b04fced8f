/* The picture of a drawing: lines by process, parts tinted, findings pinned as numbered signs. */

import { fill, h, plain, s } from "./ui.js";
import { PROCESSES, many } from "./drawn.js";
import { pieces, wholePieces } from "./drawn_pieces.js";
import { placed } from "./signs.js";

const STEPS = [1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24, 32];
const WORDS = { stop: "Stop", warn: "Warning", note: "Note" };

/* onsign(index) and onkind(index of data.lines) tell what was chosen. */
export class DrawnPicture {
  constructor({ onsign, onkind }) {
    Object.assign(this, { onsign, onkind, zoom: 1, data: null });
    this.level = h("span", { class: "level", "aria-live": "polite" });
    this.svg = s("svg", { class: "drawn", role: "img" });
    this.signs = h("div", { class: "signs" });
    this.stage = h("div", { class: "stage" }, this.svg, this.signs);
    this.window = h("div", { class: "window", tabindex: 0, role: "group", onkeydown: (event) => this.key(event) }, this.stage);
    this.window.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    this.caption = h("figcaption", {});
    const tool = (words, sign, work) => h("button", { type: "button", "aria-label": words, title: words, onclick: work }, sign);
    this.element = h("figure", { class: "drawing", "data-help": "pages/drawings" },
      h("div", { class: "tools", role: "group", "aria-label": "Size of the picture" },
        tool("Smaller", "−", () => this.step(-1)), this.level, tool("Larger", "+", () => this.step(1)), tool("Show all", "Show all", () => this.zoomTo(1))),
      this.window, this.caption);
    new ResizeObserver(() => this.placeSigns()).observe(this.stage);
  }

  show(data) {
    this.data = data;
    const [width, height] = data.view;
    this.pad = 0.03 * Math.max(width, height);
    this.full = [width + 2 * this.pad, height + 2 * this.pad];
    const about = `${data.width_mm} × ${data.height_mm} mm, ${many(data.shapes, "shape")}, ${many(data.parts.length, "part")}, ${many(data.findings.length, "finding")}`;
    this.svg.setAttribute("viewBox", `${-this.pad} ${-this.pad} ${this.full[0]} ${this.full[1]}`);
    this.svg.setAttribute("aria-label", plain(`${data.drawing}: ${about}`));
    this.window.setAttribute("aria-label", "Picture; plus and minus change its size, 0 shows all, arrows move it");
    this.stage.style.setProperty("--aspect", String(this.full[0] / this.full[1]));
    this.leaders = s("g", { class: "leaders" });
    this.mark = s("path", { class: "caught" });
    this.chosen = s("path", { class: "chosen" });
    fill(this.svg, ...drawn(data, (index) => this.onkind(index)), this.mark, this.chosen, this.leaders);
    fill(this.caption, h("span", {}, about), key(data));
    this.buttons = data.findings.map((one, index) => (one.at ? h("button", {
      type: "button", class: `sign ${one.severity}`, "aria-label": `Finding ${index + 1}, ${WORDS[one.severity]}: ${one.what}`,
      onclick: () => this.onsign(index),
    }, h("span", {}, String(index + 1))) : null));
    fill(this.signs, this.buttons);
    this.zoomTo(this.zoom);
  }

  /* Marks lines, such as what a rule would take; "" takes the mark away. */
  highlight(d) {
    this.mark?.setAttribute("d", d);
  }

  /* Marks a part by its name, and brings it into sight. */
  select(name) {
    const part = this.data?.parts.find((one) => one.name === name);
    this.chosen?.setAttribute("d", part?.d ?? "");
    if (part) this.centre((part.box[0] + part.box[2]) / 2, (part.box[1] + part.box[3]) / 2);
  }

  showFinding(index) {
    const at = this.data.findings[index].at;
    this.element.scrollIntoView({ block: "nearest" });
    this.centre(...at);
    this.buttons[index].focus({ preventScroll: true });
  }

  centre(x, y) {
    const { width, height } = this.stage.getBoundingClientRect();
    this.window.scrollTo(
      (x + this.pad) / this.full[0] * width - this.window.clientWidth / 2,
      (y + this.pad) / this.full[1] * height - this.window.clientHeight / 2);
  }

  step(by) {
    const at = STEPS.findIndex((one) => one >= this.zoom);
    this.zoomTo(STEPS[Math.min(Math.max(at + by, 0), STEPS.length - 1)]);
  }

  /* Keeps the place of the picture that is at (x, y) of the window, by default its middle. */
  zoomTo(zoom, x = this.window.clientWidth / 2, y = this.window.clientHeight / 2) {
    const before = this.stage.getBoundingClientRect();
    const [left, top] = [(this.window.scrollLeft + x) / before.width, (this.window.scrollTop + y) / before.height];
    this.zoom = zoom;
    this.stage.style.setProperty("--zoom", String(zoom));
    const after = this.stage.getBoundingClientRect();
    if (before.width) this.window.scrollTo(left * after.width - x, top * after.height - y);
    this.level.textContent = `${Math.round(100 * zoom)} %`;
    this.placeSigns();
  }

  wheel(event) {
    if (!event.ctrlKey) return;
    event.preventDefault();
    const box = this.window.getBoundingClientRect();
    const zoom = Math.min(Math.max(this.zoom * Math.exp(-event.deltaY / 300), 1), STEPS.at(-1));
    this.zoomTo(zoom, event.clientX - box.left, event.clientY - box.top);
  }

  key(event) {
    if (event.target !== this.window || event.ctrlKey || event.metaKey) return;
    const work = { "+": () => this.step(1), "=": () => this.step(1), "-": () => this.step(-1), 0: () => this.zoomTo(1) }[event.key];
    if (work) { event.preventDefault(); work(); }
  }

  placeSigns() {
    const { width, height } = this.stage.getBoundingClientRect();
    if (!this.data || !width) return;
    const shown = this.buttons.map((button, index) => [button, this.data.findings[index].at]).filter(([button]) => button);
    const anchors = shown.map(([, [x, y]]) => [(x + this.pad) / this.full[0] * width, (y + this.pad) / this.full[1] * height]);
    const spots = placed(anchors, [width, height]);
    const back = ([x, y]) => `${x / width * this.full[0] - this.pad} ${y / height * this.full[1] - this.pad}`;
    fill(this.leaders, spots.flatMap((spot, n) => [
      s("path", { class: "to", d: `M${back(anchors[n])}L${back(spot)}` }),
      s("path", { class: "at", d: `M${back(anchors[n])}h0` })]));
    shown.forEach(([button], n) => {
      button.style.setProperty("left", `${100 * spots[n][0] / width}%`);
      button.style.setProperty("top", `${100 * spots[n][1] / height}%`);
    });
  }
}

function* drawn(data, onkind) {
  const [x, y, width, height] = data.page;
  yield s("rect", { class: "page", x, y, width, height });
  for (const d of wholePieces(data.parts.map((one) => [one.d, one.box[0], one.box[1]]), data.view)) yield s("path", { class: "part", d });
  for (const photo of data.photos) {
    yield s("image", { href: photo.png, width: 1, height: 1, preserveAspectRatio: "none", transform: `matrix(${photo.matrix.join(" ")})` });
    yield s("path", { class: "line photo", d: "M0 0H1V1H0z", transform: `matrix(${photo.matrix.join(" ")})` });
  }
  const shapes = data.lines.map((one, index) => ({ one, lines: pieces(one.d, data.view), choose: () => onkind(index) }));
  for (const { one, choose } of shapes) if (one.area) yield s("path", { class: "area", d: one.area, onclick: choose });
  for (const { one, lines } of shapes) for (const d of lines) yield s("path", { class: `line ${one.process}`, d });
  for (const { lines, choose } of shapes) for (const d of lines) yield s("path", { class: "hit", d, onclick: choose });
}

/* A short line or area as the picture has it, for keys and tables. */
export const sample = (process) => s("svg", { class: "drawn sample", viewBox: "0 0 28 10", "aria-hidden": "true" },
  process === "engrave" ? s("path", { class: "area", d: "M1 1H27V9H1z" })
    : process === "part" ? s("path", { class: "part", d: "M1 1H27V9H1z" })
      : s("path", { class: `line ${process}`, d: "M1 5H27" }));

function key(data) {
  const there = new Set(data.lines.map((one) => one.process));
  if (data.photos.length) there.add("photo");
  return h("ul", { class: "key" }, Object.entries(PROCESSES).filter(([process]) => there.has(process)).map(([process, words]) => h("li", {}, sample(process), words)),
    data.parts.length ? h("li", {}, sample("part"), "part") : null);
}
