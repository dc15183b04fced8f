/* What of a sheet is seen: fits it, enlarges and moves it by wheel with Ctrl, dragging, two fingers and keys. */

const PAD_PX = 10;
const MOST = 400;
const STEP = 1.4;
const CLICK_PX = 4;

export class Sight {
  constructor(stage, playback, { moved, pointed, left, clicked }) {
    Object.assign(this, { stage, playback, moved, pointed, left, clicked });
    this.view = null;
    this.fitted = true;
    this.held = new Map();
    stage.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    stage.addEventListener("pointerdown", (event) => this.down(event));
    stage.addEventListener("pointermove", (event) => this.move(event));
    for (const kind of ["pointerup", "pointercancel"]) stage.addEventListener(kind, (event) => this.up(event));
    stage.addEventListener("pointerleave", () => this.left());
    stage.addEventListener("keydown", (event) => this.key(event));
  }

  size(wide, high, ratio) {
    this.room = { wide, high, ratio };
    this.least = this.fitting();
    if (this.fitted || !this.view) this.fit();
    else this.set(this.view.scale, this.view.x, this.view.y);
  }

  /* Pixels to a millimetre at which the whole sheet is seen. */
  fitting() {
    const { width_mm, height_mm } = this.playback;
    return Math.min((this.room.wide - 2 * PAD_PX) / width_mm, (this.room.high - 2 * PAD_PX) / height_mm);
  }

  fit() {
    const { width_mm, height_mm } = this.playback;
    const { wide, high } = this.room;
    const scale = this.least;
    this.set(scale, (wide - width_mm * scale) / 2, (high - height_mm * scale) / 2);
    this.fitted = true;
    this.stage.classList.remove("enlarged");
  }

  set(scale, x, y) {
    this.view = { ...this.room, scale, x, y };
  }

  px(x_mm, y_mm) {
    const { scale, x, y } = this.view;
    return [x + x_mm * scale, y + (this.playback.height_mm - y_mm) * scale];
  }

  mm(x_px, y_px) {
    const { scale, x, y } = this.view;
    return [(x_px - x) / scale, this.playback.height_mm - (y_px - y) / scale];
  }

  /* Enlarges about a place of the stage, by default its middle. */
  zoom(times, x = this.room.wide / 2, y = this.room.high / 2) {
    const scale = Math.min(Math.max(this.view.scale * times, this.least), this.least * MOST);
    if (scale <= this.least * 1.001) this.fit();
    else {
      const share = scale / this.view.scale;
      this.set(scale, x - (x - this.view.x) * share, y - (y - this.view.y) * share);
      this.fitted = false;
      this.stage.classList.add("enlarged");
    }
    this.moved();
  }

  whole() {
    this.fit();
    this.moved();
  }

  pan(dx, dy) {
    if (this.fitted) return;
    this.set(this.view.scale, this.view.x + dx, this.view.y + dy);
    this.moved();
  }

  inside(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left - this.stage.clientLeft, event.clientY - box.top - this.stage.clientTop];
  }

  wheel(event) {
    if (!event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    this.zoom(Math.exp(-event.deltaY / 300), ...this.inside(event));
  }

  down(event) {
    if (event.button !== 0) return;
    this.held.set(event.pointerId, this.inside(event));
    this.stage.setPointerCapture(event.pointerId);
    this.begun = this.inside(event);
    this.dragged = this.held.size > 1;
  }

  move(event) {
    const [x, y] = this.inside(event);
    const before = this.held.get(event.pointerId);
    if (!before) {
      if (this.view) this.pointed(x, y);
      return;
    }
    if (Math.hypot(x - this.begun[0], y - this.begun[1]) > CLICK_PX) this.dragged = true;
    const others = [...this.held].filter(([id]) => id !== event.pointerId);
    this.held.set(event.pointerId, [x, y]);
    if (others.length) {
      const [, [ox, oy]] = others[0];
      const apart = Math.hypot(before[0] - ox, before[1] - oy);
      if (apart > 0) this.zoom(Math.hypot(x - ox, y - oy) / apart, (x + ox) / 2, (y + oy) / 2);
    } else if (this.dragged) this.pan(x - before[0], y - before[1]);
  }

  up(event) {
    const known = this.held.delete(event.pointerId);
    if (known && !this.dragged && event.type === "pointerup") this.clicked(...this.inside(event));
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const far = 60;
    const keys = {
      ArrowLeft: () => this.pan(far, 0), ArrowRight: () => this.pan(-far, 0),
      ArrowUp: () => this.pan(0, far), ArrowDown: () => this.pan(0, -far),
      "+": () => this.zoom(STEP), "=": () => this.zoom(STEP), "-": () => this.zoom(1 / STEP), 0: () => this.whole(),
    };
    const go = keys[event.key];
    if (!go || (this.fitted && event.key.startsWith("Arrow"))) return;
    event.preventDefault();
    go();
  }
}
