/* An order from top to bottom, in the order of the work. Each section is a module with
   title, id and create(order); what it returns is {element, show()} and shows order.data. */

import { get, patch } from "./api.js";
import { changesNow, followed, movesOf } from "./moved_places.js";
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
    this.moves = [];
    this.planned = 0;
    this.foreign = 0;
    this.elsewhere = changedElsewhere(() => this.load());
    this.listeners = new Map();
  }

  /* Takes its turn among the changes, so that what it shows is never older than what they left. */
  load() {
    return this.inTurn(async () => {
      const data = await get(this.path);
      this.foreign += Number(this.data !== null && this.data.digest !== data.digest);
      this.take(data);
      this.elsewhere.hide();
    });
  }

  /* Changes the order file: changes = [{at: ["items", 0, "quantity"], value: 3}], or what gives them by
     now(place) once it is their turn. Plans anew if asked. since: how many moves had been made when the
     places were read; this.planned for those that a plan tells. */
  async change(changes, { replan = false, since } = {}) {
    let moved = [];
    await this.changing((seen, now) => {
      const wanted = typeof changes === "function" ? changes(now) : changesNow(changes, now);
      if (wanted.length === 0) return this.data;
      moved = movesOf(wanted, this.data.order);
      return patch(this.path, { changes: wanted }, { seen });
    }, { pageOf: (page) => page, moves: () => moved, since });
    say("Saved.");
    if (replan) this.tell("replan");
  }

  /* Runs ask(digest of what the page shows, now), which changes the order and answers with the new one, where
     pageOf finds it. One after the other, each made to what the one before it left: now(place) is where
     that is which stood at a place when this was asked, null where it was taken out since. moves() tells how
     it shifted places itself. What others changed meanwhile is not passed over: the server refuses then. */
  changing(ask, { pageOf = (answer) => answer.page, moves = () => [], since = this.moves.length } = {}) {
    const { foreign, data: { digest } } = this;
    const made = this.inTurn(async () => {
      const seen = foreign === this.foreign ? this.data.digest : digest;
      const answer = await ask(seen, (place) => followed(place, this.moves.slice(since)));
      this.moves.push(...moves());
      this.take(pageOf(answer), moves());
      return answer;
    });
    return made.catch((error) => {
      if (error.code === "pages/changed-elsewhere") this.elsewhere.show(error);
      throw error;
    });
  }

  inTurn(work) {
    const done = this.last.then(work);
    this.last = done.catch(() => {});
    return done;
  }

  /* moves: how places in lists shifted by it, where that is known. */
  take(data, moves = []) {
    const planned = (one) => JSON.stringify(one?.plan_document ?? null);
    if (planned(data) !== planned(this.data)) this.planned = this.moves.length;
    this.data = data;
    for (const section of this.shown) section.show(moves);
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
