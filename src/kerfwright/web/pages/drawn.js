/* What is known of an order's drawings, shared by the sections that show it. */

import { get } from "./api.js";

/* items[n] = {data, error}: one of them null, both while the drawing is read. */
class Drawings {
  constructor(order) {
    this.order = order;
    this.items = [];
    this.listeners = [];
    this.asked = 0;
  }

  /* then(n) is called whenever item n is known anew; then(null) when items came or went. */
  on(then) {
    this.listeners.push(then);
  }

  tell(n) {
    for (const then of this.listeners) then(n);
  }

  /* What is known of an item stays with it when items before it come or go. */
  follow(moves) {
    for (const { list, taken, added } of moves) {
      if (list.length !== 1 || list[0] !== "items") continue;
      if (taken !== undefined) this.items.splice(taken, 1);
      else if (added < this.items.length) this.items.splice(added, 0, { data: null, error: null });
      this.asked += 1;
      this.tell(null);
    }
  }

  /* Asks for what has changed since the last time. */
  async refresh() {
    const asked = ++this.asked;
    const count = this.order.data.order.items.length;
    if (count !== this.items.length) {
      this.items = Array.from({ length: count }, (_, n) => this.items[n] ?? { data: null, error: null });
      this.tell(null);
    }
    await Promise.all(this.items.map((_, n) => this.load(n, asked)));
  }

  async load(n, asked) {
    const known = this.items[n].data?.digest ?? "";
    let next;
    try {
      const data = await get(`${this.order.path}/items/${n}/drawing?known=${known}`);
      if (data === null) return;
      next = { data, error: null };
    } catch (error) {
      next = { data: null, error };
    }
    if (asked !== this.asked) return;
    this.items[n] = next;
    this.tell(n);
  }

  nameOf(n) {
    const item = this.order.data.order.items[n];
    return item.name ?? item.drawing.replace(/^.*\//, "").replace(/\.[^.]*$/, "");
  }
}

export function drawingsOf(order) {
  order.drawings ??= new Drawings(order);
  return order.drawings;
}

export const PROCESSES = { cut: "cut", score: "score", engrave: "engrave", guide: "guide, not burned", photo: "photo", none: "left out" };

/* What is done to shapes, as the end of a sentence. */
export const DONE = { cut: "cut", score: "scored", engrave: "engraved", guide: "a guide", none: "left out" };

export const many = (count, one, several = `${one}s`) => `${count} ${count === 1 ? one : several}`;

/* The paint of shapes in words. */
export function paintOf(fill, stroke) {
  const colour = (paint) => (paint === "pattern" ? "a pattern" : paint);
  return [fill ? `filled ${colour(fill)}` : null, stroke ? `line ${colour(stroke)}` : null].filter(Boolean).join(", ") || "not painted";
}
