/* What the beam does with which shapes of a drawing, and rules that say so for many at once. */

import { post } from "./api.js";
import { action, fill, h, problem, say } from "./ui.js";
import { gone } from "./moved_places.js";
import { DONE, PROCESSES, drawingsOf, many, paintOf } from "./drawn.js";
import { sample } from "./drawn_picture.js";

let lists = 0;

const FIRST = 0;
const LAST = 10000;
const TYPING_MS = 120;

export class Rules {
  /* highlight(Map of item → path data) marks what a rule would take; {} takes the marks away. */
  constructor(order, n, highlight) {
    Object.assign(this, { order, n, highlight, asked: 0, data: null });
    this.summary = h("summary", {});
    this.kinds = h("div", { class: "scroll" });
    this.list = h("div", {});
    this.form = h("div", {});
    this.details = h("details", { class: "rules" }, this.summary, this.kinds, this.list, this.form);
    this.element = h("div", { "data-help": "pages/rules" }, this.details);
    this.cleared();
  }

  show(data) {
    this.data = data;
    const rules = data.rules.length;
    fill(this.summary, `What the beam does with what (${many(data.lines.length, "kind")} of shapes, ${rules ? many(rules, "rule") : "no rules"})`);
    fill(this.kinds, kindTable(data, (index) => this.likeThese(index)));
    fill(this.list, this.ruleList("item"), this.ruleList("order"), byItself(data));
    if (!this.form.hasChildNodes()) this.showForm();
    else fill(this.layers, [...new Set(data.layers)].map((layer) => h("option", { value: layer })));
  }

  /* Begins a rule for all shapes like those of a line of the table. */
  likeThese(index) {
    const kind = this.data.lines[index];
    this.details.open = true;
    Object.assign(this.wish, kind.like, { process: kind.process === "none" ? "cut" : kind.process });
    this.where = FIRST;
    this.owner = "item";
    this.showForm();
    say(`${many(kind.shapes, "shape")}${kind.layer ? ` on layer ${kind.layer}` : ""}, ${paintOf(kind.fill, kind.stroke)}: ${DONE[kind.process]}, ${kind.decided_by}.`);
    this.form.querySelector("select").focus();
    this.preview();
  }

  cleared() {
    this.wish = { process: "cut", layer: null, fill: null, stroke: null };
    this.where = LAST;
    this.owner = "item";
  }

  rulesOf(owner) {
    const { order } = this.order.data;
    return owner === "item" ? order.items[this.n].rules : order.rules;
  }

  /* edit(rules) gives the list as it is to be; made once it is its turn, of the rules that there are then. */
  async write(owner, edit) {
    const at = owner === "item" ? ["items", this.n, "rules"] : ["rules"];
    await this.order.change((now) => {
      const place = now(at) ?? gone();
      const rules = place.reduce((one, step) => one[step], this.order.data.order);
      return changesTo(place, rules, edit(rules));
    });
  }

  ruleList(owner) {
    const rules = this.rulesOf(owner);
    if (rules.length === 0) return null;
    const counts = this.data.rules.filter((one) => one.owner === owner);
    const button = (words, sign, n, by) => action(sign, () => this.write(owner, (there) => moved(there, placeOf(rules, n, there), by)), { class: "plain", "aria-label": `${words} rule ${n + 1}`, once: by === null });
    return h("div", {},
      h("h4", {}, owner === "item" ? "Rules of this drawing" : "Rules of the whole order, tried after those"),
      h("ol", { class: "rule-list" }, rules.map((rule, n) => h("li", {},
        h("span", {}, inWords(rule), h("span", { class: "soft" }, ` – ${many(counts[n]?.shapes ?? 0, "shape")} here${owner === "order" ? this.elsewhere(n) : ""}`)),
        h("span", { class: "moves" },
          n > 0 ? button("Move up", "Up", n, -1) : null,
          n < rules.length - 1 ? button("Move down", "Down", n, 1) : null,
          button("Remove", "Remove", n, null))))),
      h("p", { class: "small soft" }, "The first rule that matches a shape decides about it."));
  }

  /* A rule of the order may be meant for other drawings; planning warns of one that takes nothing. */
  elsewhere(n) {
    const all = drawingsOf(this.order).items.map((one) => one.data);
    if (all.some((data) => !data)) return "";
    const count = all.flatMap((data) => data.rules.filter((one) => one.owner === "order" && one.number === n)).reduce((sum, one) => sum + one.shapes, 0);
    return count ? `, ${count} in all` : "; it decides about no shape of any drawing";
  }

  showForm() {
    const list = `layers-${lists += 1}`;
    this.layers = h("datalist", { id: list }, this.data.layers.map((layer) => h("option", { value: layer })));
    this.result = h("p", { class: "result", role: "status" });
    this.trouble = h("div", {});
    const set = (key, value) => { this.wish[key] = value; this.preview(); };
    const paints = (key) => [...new Set(this.data.lines.map((one) => one[key]).filter(Boolean))].sort();
    fill(this.form, h("h4", {}, "New rule"), h("div", { class: "row" },
      labelled("Shapes are", h("select", { onchange: (event) => set("process", event.target.value) },
        ["cut", "score", "engrave", "guide"].map((one) => h("option", { value: one, selected: one === this.wish.process }, PROCESSES[one])))),
      labelled("On the layer (* and ? stand for any)", h("input", { list, value: this.wish.layer ?? "", placeholder: "any layer", maxlength: 200, oninput: (event) => { this.wish.layer = event.target.value === "" ? null : event.target.value; this.preview(TYPING_MS); } })),
      labelled("Filled", paintChoice(paints("fill"), this.wish.fill, ["filled, any colour", "not filled"], (value) => set("fill", value))),
      labelled("Line", paintChoice(paints("stroke"), this.wish.stroke, ["a line, any colour", "no line"], (value) => set("stroke", value))),
      labelled("Holds for", choice([["item", "this drawing"], ["order", "the whole order"]], this.owner, (value) => { this.owner = value; this.preview(); })),
      labelled("Tried", choice([[LAST, "after the other rules"], [FIRST, "before the other rules"]], this.where, (value) => { this.where = Number(value); this.preview(); }))),
    this.layers, this.result,
    h("div", { class: "row" }, action("Add the rule", () => this.add(), { class: "main" }),
      h("button", { type: "button", onclick: () => this.clear() }, "Clear")), this.trouble);
  }

  clear() {
    this.cleared();
    this.asked += 1;
    this.highlight(new Map());
    this.showForm();
  }

  async add() {
    const [rule, first] = [{ ...this.wish }, this.where === FIRST];
    await this.write(this.owner, (rules) => (first ? [rule, ...rules] : [...rules, rule]));
    this.clear();
    say("The rule was added.");
  }

  /* Shows at once what the rule would take, or after a pause in typing; only the last question counts. */
  async preview(pause_ms = 0) {
    const asked = ++this.asked;
    const item = this.owner === "item" ? this.n : null;
    if (pause_ms) await new Promise((resolve) => { setTimeout(resolve, pause_ms); });
    if (asked !== this.asked) return;
    let told;
    try {
      told = await post(`${this.order.path}/rules/preview`, { rule: this.wish, item, place: this.where });
    } catch (error) {
      if (asked === this.asked) fill(this.trouble, problem(error));
      return;
    }
    if (asked !== this.asked) return;
    fill(this.trouble);
    fill(this.result, caughtInWords(told, this.wish.process));
    this.highlight(new Map(told.map((one) => [one.item, one.caught?.d ?? ""])));
  }
}

/* How many shapes go by layer words and paint, because no rule takes them. */
function byItself(data) {
  const sum = (lines) => lines.reduce((all, one) => all + one.shapes, 0);
  const left = sum(data.lines.filter((one) => one.process === "none"));
  const free = sum(data.lines.filter((one) => one.decided_by.startsWith("default:")));
  return h("p", { class: "small" }, free ? `No rule takes ${many(free, "shape")}: the words of their layer's name decide, or else their paint.` : "Rules decide about every shape that is burned.",
    left ? ` ${many(left, "shape")} would not show on white paper and ${left === 1 ? "is" : "are"} left out.` : null);
}

function caughtInWords(told, process) {
  const caught = told.map((one) => one.caught).filter(Boolean);
  const sum = (key) => caught.reduce((all, one) => all + one[key], 0);
  const was = {};
  for (const one of caught) for (const [key, count] of Object.entries(one.was)) was[key] = (was[key] ?? 0) + count;
  const changed = Object.entries(was).filter(([key]) => key !== process).map(([key, count]) => `${count} ${DONE[key]}`);
  return [`Takes ${sum("shapes")} of ${many(sum("of"), "shape")}${told.length > 1 ? ` in ${told.length} drawings` : ""}`,
    changed.length ? `, now ${changed.join(", ")}` : "",
    sum("earlier") ? `; ${sum("earlier")} more already go to a rule before it` : "", "."].join("");
}

function kindTable(data, onchange) {
  return h("table", { class: "kinds" },
    h("thead", {}, h("tr", {}, ["Process", "Layer", "Paint", "Shapes", "Decided by", ""].map((words, n) => h("th", { scope: "col", class: n === 3 ? "num" : null }, words || h("span", { class: "unseen" }, "Change"))))),
    h("tbody", {}, data.lines.map((one, index) => h("tr", {},
      h("th", { scope: "row" }, sample(one.process), " ", PROCESSES[one.process]),
      h("td", {}, one.layer || "–"),
      h("td", {}, swatch(one.fill), swatch(one.stroke), paintOf(one.fill, one.stroke)),
      h("td", { class: "num" }, String(one.shapes)),
      h("td", { class: "small" }, one.decided_by),
      h("td", {}, one.decided_by === "several" ? null : h("button", { type: "button", class: "plain", "aria-label": `Change what is done to ${one.layer || "shapes without layer"}, ${paintOf(one.fill, one.stroke)}`, onclick: () => onchange(index) }, "Change"))))));
}

const swatch = (paint) => (/^#[0-9a-f]{6}$/.test(paint ?? "") ? h("span", { class: "swatch", style: { background: paint }, "aria-hidden": "true" }) : null);

const labelled = (words, control) => h("label", {}, h("span", {}, words), control);

const choice = (options, now, set) => h("select", { onchange: (event) => set(event.target.value) },
  options.map(([value, words]) => h("option", { value, selected: value === now }, words)));

/* null asks nothing, true and false whether it is painted, text for a colour. */
function paintChoice(colours, now, [yes, no], set) {
  const all = typeof now === "string" && !colours.includes(now) ? [...colours, now] : colours;
  const options = [[null, "either way"], [true, yes], [false, no], ...all.map((one) => [one, one === "pattern" ? "a pattern" : one])];
  return h("select", { onchange: (event) => set(JSON.parse(event.target.value)) },
    options.map(([value, words]) => h("option", { value: JSON.stringify(value), selected: value === now }, words)));
}

function inWords(rule) {
  const paint = (value, yes, no, colour) => (value === null ? null : value === true ? yes : value === false ? no : `${colour} ${value}`);
  const tests = [rule.layer === null ? null : `layer ${rule.layer || "without name"}`, paint(rule.fill, "filled", "not filled", "filled"), paint(rule.stroke, "with a line", "without a line", "line")].filter(Boolean);
  return `${tests.join(", ") || "every shape"}: ${PROCESSES[rule.process]}`;
}

const sameRule = (one, other) => JSON.stringify(one) === JSON.stringify(other);

/* Where the rule that was the nth of those shown stands in the list now; -1 where it is gone. */
function placeOf(shown, n, now) {
  return sameRule(shown[n], now[n]) ? n : now.findIndex((one) => sameRule(one, shown[n]));
}

/* A list of rules with one of them moved, or taken out where by is null. */
function moved(rules, n, by) {
  const next = [...rules];
  if (n < 0) return next;
  const [rule] = next.splice(n, 1);
  if (by !== null) next.splice(Math.max(0, n + by), 0, rule);
  return next;
}

/* What turns one list of rules in the order file into another. */
function changesTo(at, old, next) {
  const changes = next.map((rule, n) => ({ at: [...at, n], value: rule })).filter((change, n) => !sameRule(old[n], change.value));
  for (let n = old.length - 1; n >= next.length; n -= 1) changes.push({ at: [...at, n], value: null });
  return changes;
}
