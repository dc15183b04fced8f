/* What is known of an order's fixtures, shared by all that show them. */

import { get } from "./api.js";

/* items = list as GET fixtures gives it; error instead, where they cannot be read. */
class Fixtures {
  constructor(order) {
    Object.assign(this, { order, items: [], error: null, listeners: [], asked: 0 });
  }

  on(then) {
    this.listeners.push(then);
  }

  async refresh() {
    const asked = ++this.asked;
    let [items, error] = [[], null];
    try {
      const { fixtures, fixture_files: files } = this.order.data.order;
      if (fixtures.length + files.length) items = await get(`${this.order.path}/fixtures`);
    } catch (problem) {
      error = problem;
    }
    if (asked !== this.asked) return;
    Object.assign(this, { items, error });
    for (const then of this.listeners) then();
  }

  named(name) {
    return this.items.find((one) => one.name === name) ?? null;
  }
}

export function fixturesOf(order) {
  order.fixtures ??= new Fixtures(order);
  return order.fixtures;
}
