/* Draws burned lines with a plain canvas, where there is no WebGL. What is drawn stays; now and then
   a copy is kept, so that going back begins at the nearest copy and not at the beginning. */

const COPIES = 8;
const STEPS = 24;
const AROUND = 20; /* pixels beyond the picture in which a wide line may still be seen */
const DASHES = { travel: [4, 4], runUp: [1, 3], score: [6, 3.5], none: [] };

export class FlatLines {
  constructor(canvas, moves, playback) {
    this.canvas = canvas;
    this.pen = canvas.getContext("2d");
    this.moves = moves;
    this.height_mm = playback.height_mm;
    this.score = playback.processes.indexOf("score");
    this.rows = playback.processes.indexOf("engrave");
    this.photo = playback.processes.indexOf("photo");
    this.copies = [];
  }

  get atOnce() {
    return 2000;
  }

  begin(view, look) {
    this.view = view;
    this.look = look;
    this.copies = [];
    this.clear();
  }

  clear() {
    this.pen.setTransform(1, 0, 0, 1, 0, 0);
    this.pen.clearRect(0, 0, this.canvas.width, this.canvas.height);
  }

  draw(from, to) {
    const { scale, ratio, x, y, wide, high } = this.view;
    const p = this.moves.points;
    const pen = this.pen;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    const low = y + this.height_mm * scale;
    let style = -1;
    let last = -1;
    for (let move = from; move < to; move += 1) {
      const own = this.style(move);
      if (own < 0) continue;
      const [x0, y0] = [x + p[2 * move] * scale, low - p[2 * move + 1] * scale];
      const [x1, y1] = [x + p[2 * move + 2] * scale, low - p[2 * move + 3] * scale];
      if (Math.max(x0, x1) < -AROUND || Math.min(x0, x1) > wide + AROUND || Math.max(y0, y1) < -AROUND || Math.min(y0, y1) > high + AROUND) continue;
      if (own !== style) {
        if (style >= 0) pen.stroke();
        this.take(own, scale);
        pen.beginPath();
        style = own;
        last = -1;
      }
      if (last !== move - 1 || last < 0) pen.moveTo(x0, y0);
      pen.lineTo(x1, y1);
      last = move;
    }
    if (style >= 0) pen.stroke();
  }

  /* A number for how a move is drawn; -1 for not at all. */
  style(move) {
    const { moves, look } = this;
    const process = moves.process[move];
    if (!moves.burns(move)) return look.travel ? (moves.kind[move] === 0 ? 0 : 1) : -1;
    const step = look.values ? Math.round(look.values[move] * (STEPS - 1))
      : process === this.photo ? Math.round((moves.power[move] / 65535 / look.strongest) * (STEPS - 1)) : 0;
    return 2 + process * STEPS + step;
  }

  take(style, scale) {
    const { pen, look } = this;
    if (style < 2) {
      pen.strokeStyle = look.css(look.soft, style === 0 ? 0.75 : 0.2);
      pen.lineWidth = 0.9;
      pen.setLineDash(style === 0 ? DASHES.travel : DASHES.runUp);
      pen.lineCap = "butt";
      return;
    }
    const process = Math.floor((style - 2) / STEPS);
    const step = (style - 2) % STEPS;
    const rows = process >= this.rows;
    const [real, least] = [look.widths[process] * scale, rows ? 1 : 1.5];
    let strength = rows ? Math.min(real / least, 1) : 1;
    if (!look.values && rows) strength *= process === this.photo ? (0.85 * step) / (STEPS - 1) : 0.6;
    pen.strokeStyle = look.css(look.values ? look.ramp[step] : look.ink, strength);
    pen.lineWidth = Math.max(real, least);
    pen.setLineDash(process === this.score ? DASHES.score : DASHES.none);
    pen.lineCap = rows || process === this.score ? "butt" : "square";
  }

  /* Keeps a copy of the picture with so many moves drawn, if the last one is far enough behind. */
  mark(drawn) {
    const apart = Math.max(this.moves.count / COPIES, 5000);
    if (drawn - (this.copies.at(-1)?.drawn ?? 0) < apart) return;
    const copy = document.createElement("canvas");
    [copy.width, copy.height] = [this.canvas.width, this.canvas.height];
    copy.getContext("2d").drawImage(this.canvas, 0, 0);
    this.copies.push({ drawn, copy });
  }

  /* Goes back to the last copy with no more than so many moves drawn; tells how many are. */
  back(most) {
    const found = this.copies.filter((one) => one.drawn <= most).at(-1);
    this.clear();
    if (found) this.pen.drawImage(found.copy, 0, 0);
    return found?.drawn ?? 0;
  }

  free() {
    this.copies = [];
  }
}
