/* The moves of a sheet: read from bytes (see web/playback_file.py), and where the beam is when. */

const MAGIC = "KWMV";
const VERSION = 1;
const HEADER_BYTES = 16;
const FULL = 65535;
const ARRAYS = { f4: Float32Array, f8: Float64Array, i4: Int32Array, u2: Uint16Array, u1: Uint8Array };
const COLUMNS = [["points", "f4", 2], ["end_s", "f8"], ["wait_s", "f4"], ["entry_mm_s", "f4"], ["top_mm_s", "f4"],
  ["exit_mm_s", "f4"], ["energy_j_mm", "f4"], ["source", "i4"], ["power", "u2"], ["up", "u2"], ["down", "u2"],
  ["process", "u1"], ["kind", "u1"]];

export const TRAVEL = 0;
export const RUN_UP = 1;

export class Moves {
  constructor(bytes) {
    const header = new DataView(bytes, 0, HEADER_BYTES);
    const magic = String.fromCharCode(...new Uint8Array(bytes, 0, 4));
    if (magic !== MAGIC || header.getUint32(4, true) !== VERSION) throw new Error("The moves of this sheet cannot be read.");
    this.count = header.getUint32(8, true);
    let at = HEADER_BYTES;
    for (const [name, kind, width] of COLUMNS) {
      at += (8 - (at % 8)) % 8;
      const length = width ? (this.count + 1) * width : this.count;
      this[name] = new ARRAYS[kind](bytes, at, length);
      at += this[name].byteLength;
    }
    this.total_s = this.count ? this.end_s[this.count - 1] : 0;
    this.strokes = this.beginnings();
  }

  /* Moves that burn; the others are travel and run-up. */
  burns(move) {
    return this.kind[move] > RUN_UP && this.power[move] > 0;
  }

  begin_s(move) {
    return move > 0 ? this.end_s[move - 1] : 0;
  }

  length_mm(move) {
    const p = this.points;
    return Math.hypot(p[2 * move + 2] - p[2 * move], p[2 * move + 3] - p[2 * move + 1]);
  }

  /* How many moves are over at a time. */
  over(time_s) {
    let [low, high] = [0, this.count];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.end_s[middle] <= time_s) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  /* Where the beam is at a time: {move, x, y, speed_mm_s, standing}; move is count when all is over. */
  at(time_s) {
    const move = this.over(time_s);
    const p = this.points;
    if (move >= this.count) return { move, x: p[2 * move], y: p[2 * move + 1], speed_mm_s: 0, standing: true };
    const into = time_s - this.begin_s(move) - this.wait_s[move];
    const { share, speed_mm_s } = this.along(move, into);
    return {
      move, speed_mm_s, standing: into < 0,
      x: p[2 * move] + share * (p[2 * move + 2] - p[2 * move]),
      y: p[2 * move + 1] + share * (p[2 * move + 3] - p[2 * move + 1]),
    };
  }

  /* How much of a move's length is done so many seconds into its motion, speeding up, going on and braking. */
  along(move, into_s) {
    const moving = this.end_s[move] - this.begin_s(move) - this.wait_s[move];
    if (into_s <= 0 || moving <= 0) return { share: 0, speed_mm_s: 0 };
    const [entry, top, exit] = [this.entry_mm_s[move], this.top_mm_s[move], this.exit_mm_s[move]];
    const up = (this.up[move] / FULL) * moving;
    const down = (this.down[move] / FULL) * moving;
    const level = Math.max(moving - up - down, 0);
    const whole = 0.5 * (entry + top) * up + top * level + 0.5 * (top + exit) * down;
    let done, speed_mm_s;
    if (into_s < up) {
      speed_mm_s = entry + ((top - entry) * into_s) / up;
      done = 0.5 * (entry + speed_mm_s) * into_s;
    } else if (into_s < up + level) {
      speed_mm_s = top;
      done = 0.5 * (entry + top) * up + top * (into_s - up);
    } else {
      const left = Math.max(moving - into_s, 0);
      speed_mm_s = down > 0 ? exit + ((top - exit) * left) / down : exit;
      done = whole - 0.5 * (exit + speed_mm_s) * left;
    }
    return { share: whole > 0 ? Math.min(done / whole, 1) : 1, speed_mm_s };
  }

  /* Moves with which something new is burned: after travel, or of another source or process. */
  beginnings() {
    const found = [];
    for (let move = 0; move < this.count; move += 1) {
      if (this.process[move] === TRAVEL) continue;
      const before = move - 1;
      if (move === 0 || this.process[before] !== this.process[move] || this.source[before] !== this.source[move]) found.push(move);
    }
    return Int32Array.from(found);
  }

  /* The beginning of the stroke after (or before) a time, as a time; past the ends, those. */
  stroke_s(time_s, forwards) {
    const near = 1e-6;
    let [low, high] = [0, this.strokes.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      const begin = this.begin_s(this.strokes[middle]);
      if (forwards ? begin <= time_s + near : begin < time_s - near) low = middle + 1;
      else high = middle;
    }
    if (forwards) return low < this.strokes.length ? this.begin_s(this.strokes[low]) : this.total_s;
    return low > 0 ? this.begin_s(this.strokes[low - 1]) : 0;
  }

  /* Distance along its stroke at which each move begins, for dashes that go on round corners. */
  phases() {
    const out = new Float32Array(this.count);
    for (let move = 1; move < this.count; move += 1) {
      const on = this.process[move] === this.process[move - 1] && this.source[move] === this.source[move - 1] &&
        this.burns(move) === this.burns(move - 1);
      out[move] = on ? out[move - 1] + this.length_mm(move - 1) : 0;
    }
    return out;
  }

  /* Energy of each burn between the least (0) and the most (1), by its logarithm; with the range in J/mm. */
  energyShares() {
    const [low, high] = this.energyRange();
    const [from, wide] = [Math.log(low), Math.log(high) - Math.log(low)];
    const shares = Float32Array.from(this.energy_j_mm, (one) => (one > 0 && wide > 0 ? Math.min(Math.max((Math.log(one) - from) / wide, 0), 1) : one > 0 ? 1 : 0));
    return { shares, low, high };
  }

  energyRange() {
    let [low, high] = [Infinity, 0];
    for (let move = 0; move < this.count; move += 1) {
      const one = this.burns(move) ? this.energy_j_mm[move] : 0;
      if (one <= 0) continue;
      if (one < low) low = one;
      if (one > high) high = one;
    }
    return high > 0 ? [low, high] : [1, 1];
  }
}
