/* An order from top to bottom, in the order of the work. Each section is a module with
   title, id and create(order); what it returns is {element, show()} and shows order.data. */

import { get, patch } from "./api.js";
import { action, fill, h, page, problem, say } from "./ui.js";
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
    this.last = Promise.resolve();
    this.shifting = 0;
    this.elsewhere = changedElsewhere(() => this.load());
    this.listeners = new Map();
  }

  async load() {
    this.take(await get(this.path));
    this.elsewhere.hide();
  }

  /* Changes the order file: changes = [{at: ["items", 0, "quantity"], value: 3}]. Plans anew if asked. */
  async change(changes, { replan = false } = {}) {
    const shifts = changes.some((one) => typeof one.at.at(-1) === "number");
    await this.changing((seen) => patch(this.path, { changes }, { seen }), { pageOf: (page) => page, shifts });
    say("Saved.");
    if (replan) this.tell("replan");
  }

  /* Runs ask(digest of what the page shows), which changes the order and answers with the new one, where
     pageOf finds it. One after the other: each is made to what the one before it left, except after
     one that shifts the places in a list, for they were counted in what the page showed before. */
  changing(ask, { pageOf = (answer) => answer.page, shifts = true } = {}) {
    const shown = this.shifting > 0 ? this.data.digest : null;
    this.shifting += Number(shifts);
    const made = this.last.then(async () => {
      const answer = await ask(shown ?? this.data.digest);
      this.take(pageOf(answer));
      return answer;
    }).finally(() => { this.shifting -= Number(shifts); });
    this.last = made.catch(() => {});
    return made.catch((error) => {
      if (error.code === "pages/changed-elsewhere") this.elsewhere.show(error);
      throw error;
    });
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

/* Says that a change was refused, as others changed the order, and offers to show what they did. */
function changedElsewhere(load) {
  const element = h("div", { class: "elsewhere", hidden: true });
  return {
    element,
    show(error) {
      fill(element, problem(error), action("Load the order anew", load, { class: "main", id: "load-anew" }));
      element.hidden = false;
      element.querySelector("button").focus();
    },
    hide() {
      element.hidden = true;
    },
  };
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
    order.elsewhere.element,
    strip.element,
    h("nav", { class: "jumps", "aria-label": "This order" }, h("ul", {}, SECTIONS.map((one) => h("li", {}, h("a", { href: `#${one.id}` }, one.title))))),
    made.map(([section, one]) => h("section", { id: section.id, "aria-labelledby": `${section.id}-title`, "data-help": section.help },
      h("h2", { id: `${section.id}-title` }, section.title), one.element)));
  for (const one of order.shown) one.show();
  if (location.hash) document.getElementById(location.hash.slice(1))?.scrollIntoView();
}

start();
