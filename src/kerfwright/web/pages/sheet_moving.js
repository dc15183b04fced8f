/* Moves parts of a sheet by pointer, keys and numbers, with snapping to the sheet, guides and neighbours. */

import { box, guideLine } from "./sheet_picture.js";

const SNAP_PX = 7;

export class Moving {
  /* changed() is called after every move; guides = [{x_mm}|{y_mm}]. */
  constructor(sheet, picture, guides, { changed, chosen }) {
    Object.assign(this, { sheet, picture, guides, changed, chosen });
    this.moves = new Map();
    this.selected = null;
    this.boxes = sheet.parts.map((part) => box(part.rings[0]));
    picture.parts.forEach((group, n) => this.listen(group, n));
  }

  listen(group, n) {
    group.addEventListener("focus", () => this.choose(n));
    group.addEventListener("keydown", (event) => this.key(event, n));
    group.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      event.preventDefault();
      group.focus();
      group.setPointerCapture(event.pointerId);
      const from = this.picture.point(event);
      const { dx, dy } = this.move(n);
      const drag = (moved) => {
        const [x, y] = this.picture.point(moved);
        this.put(n, { dx: dx + x - from[0], dy: dy + y - from[1] }, { snap: !moved.altKey });
      };
      const drop = () => {
        group.removeEventListener("pointermove", drag);
        group.removeEventListener("pointerup", drop);
        group.removeEventListener("pointercancel", drop);
        this.showSnapped([]);
        this.changed(n);
      };
      group.addEventListener("pointermove", drag);
      group.addEventListener("pointerup", drop);
      group.addEventListener("pointercancel", drop);
    });
  }

  choose(n) {
    if (this.selected !== null) this.picture.parts[this.selected].setAttribute("aria-pressed", "false");
    this.selected = n;
    this.picture.parts[n].setAttribute("aria-pressed", "true");
    this.chosen(n);
  }

  key(event, n) {
    const step = event.shiftKey ? 10 : event.altKey ? 0.1 : 1;
    const ways = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] };
    if (ways[event.key]) {
      const { dx, dy } = this.move(n);
      this.put(n, { dx: dx + ways[event.key][0], dy: dy + ways[event.key][1] });
    } else if (event.key.toLowerCase() === "r" && !event.ctrlKey && !event.metaKey) this.turn(n);
    else if (event.key === "Escape") this.putBack(n);
    else return;
    event.preventDefault();
    this.changed(n);
  }

  move(n) {
    return this.moves.get(n) ?? { dx: 0, dy: 0, turn: 0 };
  }

  turn(n) {
    this.put(n, { turn: (this.move(n).turn + 90) % 360 });
  }

  putBack(n) {
    this.moves.delete(n);
    this.draw(n);
  }

  put(n, change, { snap = false } = {}) {
    const to = { ...this.move(n), ...change };
    this.moves.set(n, to);
    if (snap) this.snap(n, to);
    this.draw(n);
  }

  /* Box of a part where it lies now. */
  boxNow(n) {
    const { dx, dy, turn } = this.move(n);
    const [x0, y0, x1, y1] = this.boxes[n];
    const [cx, cy] = [(x0 + x1) / 2, (y0 + y1) / 2];
    const [w, h] = turn % 180 === 0 ? [x1 - x0, y1 - y0] : [y1 - y0, x1 - x0];
    return [cx + dx - w / 2, cy + dy - h / 2, cx + dx + w / 2, cy + dy + h / 2];
  }

  /* Puts the lower left corner of a part's box at x, y. */
  putAt(n, x, y) {
    const [x0, y0] = this.boxNow(n);
    const { dx, dy } = this.move(n);
    this.put(n, { dx: dx + x - x0, dy: dy + y - y0 });
  }

  /* Lines it up with the sheet: across = "left" | "centre" | "right", up = "bottom" | "middle" | "top". */
  align(n, { across, up }) {
    const { width_mm: width, height_mm: height, margin_mm: margin } = this.sheet;
    const [x0, y0, x1, y1] = this.boxNow(n);
    const [w, h] = [x1 - x0, y1 - y0];
    const x = { left: margin, centre: (width - w) / 2, right: width - margin - w }[across] ?? x0;
    const y = { bottom: margin, middle: (height - h) / 2, top: height - margin - h }[up] ?? y0;
    this.putAt(n, x, y);
  }

  snap(n, to) {
    const reach = SNAP_PX * this.sheet.width_mm / this.picture.svg.getBoundingClientRect().width;
    const [x0, y0, x1, y1] = this.boxNow(n);
    const across = nearest([x0, (x0 + x1) / 2, x1], this.lines(n, 0), reach);
    const up = nearest([y0, (y0 + y1) / 2, y1], this.lines(n, 1), reach);
    to.dx += across?.by ?? 0;
    to.dy += up?.by ?? 0;
    this.showSnapped([across && { x_mm: across.at }, up && { y_mm: up.at }].filter(Boolean));
  }

  /* Where edges and middles may snap to along an axis: {edges, middles}. */
  lines(n, axis) {
    const size = axis === 0 ? this.sheet.width_mm : this.sheet.height_mm;
    const { margin_mm: margin, spacing_mm: spacing } = this.sheet;
    const own = this.guides.map((guide) => (axis === 0 ? guide.x_mm : guide.y_mm)).filter((at) => at !== null && at !== undefined);
    const lines = { low: [margin, ...own], middle: [size / 2, ...own], high: [size - margin, ...own] };
    this.boxes.forEach((_, other) => {
      if (other === n) return;
      const now = this.boxNow(other);
      const [low, high] = [now[axis], now[axis + 2]];
      lines.low.push(low, high + spacing);
      lines.middle.push((low + high) / 2);
      lines.high.push(high, low - spacing);
    });
    return lines;
  }

  showSnapped(lines) {
    this.picture.over.querySelectorAll(".snapped").forEach((one) => one.remove());
    for (const one of lines) this.picture.over.append(guideLine(this.sheet, one, "snapped"));
  }

  draw(n) {
    const group = this.picture.parts[n];
    const { dx, dy, turn } = this.move(n);
    const [x0, y0, x1, y1] = this.boxes[n];
    group.setAttribute("transform", `translate(${dx} ${dy}) rotate(${turn} ${(x0 + x1) / 2} ${(y0 + y1) / 2})`);
    group.classList.toggle("moved", this.moves.has(n));
  }
}

function nearest([low, middle, high], lines, reach) {
  let best = null;
  const offer = (from, at) => {
    const by = at - from;
    if (Math.abs(by) < reach && (best === null || Math.abs(by) < Math.abs(best.by))) best = { by, at };
  };
  for (const at of lines.low) offer(low, at);
  for (const at of lines.middle) offer(middle, at);
  for (const at of lines.high) offer(high, at);
  return best;
}
