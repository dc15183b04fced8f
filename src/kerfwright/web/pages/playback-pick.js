/* Finds the move nearest to a place. Moves that follow one another lie near one another, so boxes round
   so many of them, and boxes round so many boxes, are a grid that needs no cells. */

const MANY = 32;

export class Near {
  constructor(moves) {
    this.moves = moves;
    this.levels = [];
    let boxes = this.first();
    while (boxes.length > 4) {
      this.levels.push(boxes);
      boxes = grouped(boxes);
    }
    this.levels.push(boxes);
  }

  first() {
    const { points, count } = this.moves;
    const boxes = emptyBoxes(Math.ceil(count / MANY));
    for (let move = 0; move < count; move += 1) {
      const box = 4 * Math.floor(move / MANY);
      for (const end of [2 * move, 2 * move + 2]) grow(boxes, box, points[end], points[end + 1], points[end], points[end + 1]);
    }
    return boxes;
  }

  /* The move nearest to (x, y) within reach; of several as near, the last that is over, else the first. */
  find(x, y, reach_mm, over, counts) {
    const best = { move: -1, distance: reach_mm };
    const top = this.levels.length - 1;
    for (let box = 0; box < this.levels[top].length / 4; box += 1) this.descend(top, box, x, y, over, counts, best);
    return best.move;
  }

  descend(level, box, x, y, over, counts, best) {
    const boxes = this.levels[level];
    if (outside(boxes, 4 * box, x, y) > best.distance) return;
    if (level > 0) {
      const end = Math.min((box + 1) * MANY, this.levels[level - 1].length / 4);
      for (let below = box * MANY; below < end; below += 1) this.descend(level - 1, below, x, y, over, counts, best);
      return;
    }
    const end = Math.min((box + 1) * MANY, this.moves.count);
    for (let move = box * MANY; move < end; move += 1) {
      if (!counts(move)) continue;
      const distance = this.distance(move, x, y);
      const nearer = distance < best.distance - 1e-6;
      const as = Math.abs(distance - best.distance) <= 1e-6 && (best.move < 0 || move < over);
      if (nearer || as) Object.assign(best, { move, distance: Math.min(distance, best.distance) });
    }
  }

  distance(move, x, y) {
    const p = this.moves.points;
    const [x0, y0] = [p[2 * move], p[2 * move + 1]];
    const [dx, dy] = [p[2 * move + 2] - x0, p[2 * move + 3] - y0];
    const square = dx * dx + dy * dy;
    const share = square > 0 ? Math.min(Math.max(((x - x0) * dx + (y - y0) * dy) / square, 0), 1) : 0;
    return Math.hypot(x - x0 - share * dx, y - y0 - share * dy);
  }
}

function emptyBoxes(count) {
  const boxes = new Float32Array(4 * count);
  for (let at = 0; at < boxes.length; at += 4) boxes.set([Infinity, Infinity, -Infinity, -Infinity], at);
  return boxes;
}

function grow(boxes, at, left, low, right, high) {
  if (left < boxes[at]) boxes[at] = left;
  if (low < boxes[at + 1]) boxes[at + 1] = low;
  if (right > boxes[at + 2]) boxes[at + 2] = right;
  if (high > boxes[at + 3]) boxes[at + 3] = high;
}

function grouped(boxes) {
  const out = emptyBoxes(Math.ceil(boxes.length / 4 / MANY));
  for (let at = 0; at < boxes.length; at += 4) {
    grow(out, 4 * Math.floor(at / 4 / MANY), boxes[at], boxes[at + 1], boxes[at + 2], boxes[at + 3]);
  }
  return out;
}

function outside(boxes, at, x, y) {
  return Math.hypot(Math.max(boxes[at] - x, x - boxes[at + 2], 0), Math.max(boxes[at + 1] - y, y - boxes[at + 3], 0));
}
