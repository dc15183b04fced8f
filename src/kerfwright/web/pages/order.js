/* An order from top to bottom, in the order of the work. Each section is a module with
   title, id and create(order); what it returns is {element, show()} and shows order.data. */

import { get, patch } from "./api.js";
import { fill, h, page, problem, say } from "./ui.js";
import * as drawings from "./drawings.js";
import * as parts from "./parts.js";
import * as sheets from "./sheets.js";
import * as beam from "./beam.js";
import * as price from "./price.js";
import * as run from "./run.js";
import * as planning from "./planning.js";
import "./help.js";

const SECTIONS = [drawings, parts, sheets, beam, price, run];

/* What the sections share. data = {slug, order, plan, plan_document} as GET /api/orders/{slug} gives it. */
class Order {
  constructor(slug) {
    this.slug = slug;
    this.path = `/orders/${encodeURIComponent(slug)}`;
    this.data = null;
    this.shown = [];
    this.listeners = new Map();
  }

  async load() {
    this.take(await get(this.path));
  }

  /* Changes the order file: changes = [{at: ["items", 0, "quantity"], value: 3}]. Plans anew if asked. */
  async change(changes, { replan = false } = {}) {
    this.take(await patch(this.path, { changes }));
    say("Saved.");
    if (replan) this.tell("replan");
  }

  take(data) {
    this.data = data;
    for (const section of this.shown) section.show();
  }

  /* Kinds: "replan" (asks for a new plan), "planned", "layout" (the improving nest), "select" (a part or shape). */
  on(kind, then) {
    this.listeners.set(kind, [...(this.listeners.get(kind) ?? []), then]);
  }

  tell(kind, what) {
    for (const then of this.listeners.get(kind) ?? []) then(what);
  }
}

async function start() {
  const order = new Order(document.body.dataset.order);
  try {
    await order.load();
  } catch (error) {
    fill(document.getElementById("main"), h("h1", {}, "Order"), problem(error));
    return;
  }
  const strip = planning.create(order);
  const made = SECTIONS.map((section) => [section, section.create(order)]);
  order.shown = [strip, ...made.map(([, one]) => one)];
  page(order.data.order.title,
    order.data.order.invented ? h("p", { class: "banner" }, "An invented example: its settings were never burned.") : null,
    strip.element,
    h("nav", { class: "jumps", "aria-label": "This order" }, h("ul", {}, SECTIONS.map((one) => h("li", {}, h("a", { href: `#${one.id}` }, one.title))))),
    made.map(([section, one]) => h("section", { id: section.id, "aria-labelledby": `${section.id}-title`, "data-help": section.help },
      h("h2", { id: `${section.id}-title` }, section.title), one.element)));
  for (const one of order.shown) one.show();
  if (location.hash) document.getElementById(location.hash.slice(1))?.scrollIntoView();
}

start();
