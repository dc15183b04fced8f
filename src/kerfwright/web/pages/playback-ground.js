/* The sheet with its parts; what is cut free is tinted once it is. */

export class Ground {
  constructor(canvas, playback) {
    this.pen = canvas.getContext("2d");
    this.canvas = canvas;
    this.playback = playback;
    this.free_s = playback.parts.map((part) => part.free_s ?? Infinity);
    this.free = -1;
  }

  freeAt(time_s) {
    return this.free_s.filter((one) => one <= time_s).length;
  }

  draw(view, time_s, anew) {
    const free = this.freeAt(time_s);
    if (!anew && free === this.free) return;
    this.free = free;
    const { pen, playback } = this;
    const style = getComputedStyle(this.canvas);
    const colour = (name) => style.getPropertyValue(name);
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, this.canvas.width, this.canvas.height);
    pen.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
    this.rings(view, playback.outline);
    pen.fillStyle = colour("--sheet");
    pen.fill("evenodd");
    pen.strokeStyle = colour("--mark");
    pen.lineWidth = 1;
    pen.stroke();
    this.rings(view, playback.keep_out);
    pen.setLineDash([2, 3]);
    pen.stroke();
    pen.setLineDash([]);
    playback.parts.forEach((part, number) => {
      this.rings(view, part.rings);
      const loose = this.free_s[number] <= time_s;
      pen.fillStyle = colour(loose ? "--play-free" : "--play-part");
      pen.fill("evenodd");
      pen.strokeStyle = colour("--play-outline");
      pen.lineWidth = 0.7;
      pen.stroke();
    });
  }

  rings(view, rings) {
    const low = view.y + this.playback.height_mm * view.scale;
    this.pen.beginPath();
    for (const ring of rings) {
      ring.forEach(([x, y], corner) => this.pen[corner ? "lineTo" : "moveTo"](view.x + x * view.scale, low - y * view.scale));
      this.pen.closePath();
    }
  }
}
