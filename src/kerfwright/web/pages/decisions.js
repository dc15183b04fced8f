/* Decisions of the planner: every way with what it costs, and buttons to take another.
   decisions(order, order.data.plan_document.decisions.filter(…)) gives an element. */

import { action, duration, h, helpAddress } from "./ui.js";

const BACK = "";

export function decisions(order, list) {
  return h("div", { class: "decisions" }, list.map((one) => decision(order, one)));
}

function decision(order, one) {
  const name = `${one.what}${one.sheet ? `, ${one.sheet}` : ""}`;
  const columns = COLUMNS.filter((column) => one.alternatives.some((way) => column.has(way)));
  const slowest = Math.max(...one.alternatives.map((way) => way.time_s ?? 0));
  const back = changesFor(one, BACK);
  return h("article", { class: "decision", "aria-label": name, "data-help": one.code },
    h("h3", {}, capital(one.what), one.sheet ? h("span", { class: "soft" }, `, ${one.sheet}`) : null),
    h("p", {}, h("strong", {}, capital(one.chosen)), `: ${one.why}.`, saving(one), " ",
      one.code ? h("a", { href: helpAddress(one.code), target: "_blank", class: "small" }, "More about this") : null),
    h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": `Ways: ${name}` }, h("table", { class: "ways" },
      h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Way"), columns.map((column) => h("th", { scope: "col", class: column.number ? "num" : "beside" }, column.title)),
        h("th", { scope: "col" }, h("span", { class: "unseen" }, "Choose")))),
      h("tbody", {}, one.alternatives.map((way) => row(order, one, way, columns, slowest, name))))),
    back.length ? action("Let Kerfwright choose", () => order.change(back, { replan: true }), { id: idOf(name, "back"), "aria-label": `Let Kerfwright choose: ${name}` }) : null,
    one.override && !(one.overrules ?? []).length ? h("p", { class: "small soft" }, "To choose by hand: ", h("code", {}, one.override)) : null);
}

function row(order, one, way, columns, slowest, name) {
  const taken = way.way === one.chosen;
  const changes = changesFor(one, way.way);
  return h("tr", { class: taken ? "taken" : null },
    h("th", { scope: "row" }, taken ? h("span", { class: "tick", "aria-hidden": "true" }, "✓ ") : null, way.way,
      taken ? h("span", { class: "unseen" }, " (taken)") : null,
      way.note ? h("p", { class: "small soft" }, way.note) : null),
    columns.map((column) => h("td", { class: column.number ? "num" : null, "data-name": column.named ? column.title : null }, column.show(way, slowest))),
    h("td", {}, !taken && changes.length
      ? action("Take this way", () => order.change(changes, { replan: true }), { id: idOf(name, way.way), class: "plain", "aria-label": `Take this way: ${way.way}, for ${name}` })
      : null));
}

/* Everything that one way needs is changed together. */
function changesFor(one, way) {
  return (one.overrules ?? []).filter((overrule) => overrule.way === way).map(({ at, value }) => ({ at, value }));
}

const COLUMNS = [
  { title: "Time", number: true, has: (way) => way.time_s !== null, show: (way) => duration(way.time_s) },
  { title: "Beside the slowest", has: (way) => way.time_s !== null, show: bar },
  { title: "Length", number: true, has: (way) => way.length_mm !== null, show: (way) => (way.length_mm === null ? "–" : `${(way.length_mm / 1000).toFixed(2)} m`) },
  { title: "Sheet used", number: true, named: true, has: (way) => way.material_mm2 !== null, show: (way) => (way.material_mm2 === null ? "–" : `${(way.material_mm2 / 1e6).toFixed(3)} m²`) },
  { title: "Cost", number: true, named: true, has: (way) => way.money !== null, show: (way) => way.money ?? "–" },
];

/* The time as a length; the number itself stands beside it. */
function bar(way, slowest) {
  if (way.time_s === null || slowest <= 0) return null;
  const filled = h("div", { class: "filled" });
  filled.style.setProperty("width", `${Math.max(1, (100 * way.time_s) / slowest).toFixed(1)}%`);
  return h("div", { class: "time-bar", "aria-hidden": "true" }, filled);
}

function saving(one) {
  if (one.saved_s === null || Math.abs(one.saved_s) < 0.05) return null;
  return one.saved_s > 0
    ? ` It takes ${duration(one.saved_s)} less than the next best way.`
    : ` The quickest way would take ${duration(-one.saved_s)} less.`;
}

const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
const idOf = (name, way) => `take-${`${name} ${way}`.toLowerCase().replace(/[^a-z0-9]+/g, "-")}`;
