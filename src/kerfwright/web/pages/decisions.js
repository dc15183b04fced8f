/* Decisions of the planner: every way with what it costs, and buttons to take another.
   decisions(order, order.data.plan_document.decisions.filter(…)) gives an element. */

import { action, capital, duration, h, helpAddress } from "./ui.js";

const BACK = "";

/* With many, each is a line that opens. */
const FOLDED_FROM = 6;

export function decisions(order, list) {
  return h("div", { class: "decisions" }, list.map((one) => decision(order, one, list.length >= FOLDED_FROM)));
}

function decision(order, one, folded) {
  const name = `${one.what}${one.sheet ? `, ${one.sheet}` : ""}`;
  const columns = COLUMNS.filter((column) => one.alternatives.some((way) => column.has(way)));
  const beside = { slowest: Math.max(...one.alternatives.map((way) => way.time_s ?? 0)), currency: order.data.currency };
  const back = changesFor(one, BACK);
  const heading = h("h3", {}, capital(one.what), one.sheet ? h("span", { class: "soft" }, `, ${one.sheet}`) : null);
  const open = folded && opened.has(name);
  const body = [
    h("p", {}, h("strong", {}, capital(one.chosen)), `: ${one.why}.`, saving(one), " ",
      one.code ? h("a", { href: helpAddress(one.code), target: "_blank", class: "small" }, "More about this") : null),
    one.alternatives.length === 1 ? only(one.alternatives[0], beside) : h("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": `Ways: ${name}` }, h("table", { class: "ways" },
      h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Way"), columns.map((column) => h("th", { scope: "col", class: column.number ? "num" : "beside" }, column.title)),
        h("th", { scope: "col" }, h("span", { class: "unseen" }, "Choose")))),
      h("tbody", {}, one.alternatives.map((way) => row(order, one, way, columns, beside, name))))),
    back.length ? action("Let Kerfwright choose", () => order.change(back, { replan: true, since: order.planned }), { id: idOf(name, "back"), "aria-label": `Let Kerfwright choose: ${name}` }) : null,
    one.override && one.alternatives.length > 1 && !(one.overrules ?? []).length ? h("p", { class: "small soft" }, "To choose by hand, in the order file: ", h("code", {}, one.override)) : null,
  ];
  return h("article", { class: folded ? null : "decision", "aria-label": name, "data-help": one.code }, folded
    ? h("details", { class: "decision folded", open, ontoggle: (event) => (event.target.open ? opened.add(name) : opened.delete(name)) },
      h("summary", {}, heading, `: ${one.chosen}`, h("span", { class: "soft" }, briefly(one))), body)
    : [heading, body]);
}

/* What the chosen way takes, and what it saves, behind its name. */
function briefly(one) {
  const chosen = one.alternatives.find((way) => way.way === one.chosen);
  const apart = one.saved_s === null || Math.abs(one.saved_s) < 0.05 ? "" : `${duration(Math.abs(one.saved_s))} ${one.saved_s > 0 ? "less than the next best" : "more than the quickest"}`;
  return [chosen?.time_s === null || !chosen ? "" : `, ${duration(chosen.time_s)}`, apart && `; ${apart}`].join("");
}

/* What was opened stays so when the order is planned anew. */
const opened = new Set();

/* The numbers of the only way there is. */
const only = (way, beside) => h("p", { class: "small soft" }, [way.note, ...COLUMNS.filter((column) => column.number && column.has(way)).map((column) => `${column.title.toLowerCase()} ${column.show(way, beside)}`)].filter(Boolean).join("; "), ".");

function row(order, one, way, columns, beside, name) {
  const taken = way.way === one.chosen;
  const changes = changesFor(one, way.way);
  return h("tr", { class: taken ? "taken" : null },
    h("th", { scope: "row" }, taken ? h("span", { class: "tick", "aria-hidden": "true" }, "✓ ") : null, way.way,
      taken ? h("span", { class: "unseen" }, " (taken)") : null,
      way.note ? h("p", { class: "small soft" }, way.note) : null),
    columns.map((column) => h("td", { class: column.number ? "num" : null, "data-name": column.named ? column.title : null }, column.show(way, beside))),
    h("td", {}, !taken && changes.length
      ? action("Take this way", () => order.change(changes, { replan: true, since: order.planned }), { id: idOf(name, way.way), class: "plain", "aria-label": `Take this way: ${way.way}, for ${name}` })
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
  { title: "Cost", number: true, named: true, has: (way) => way.money !== null, show: (way, { currency }) => (way.money === null ? "–" : `${way.money} ${currency}`.trim()) },
];

/* The time as a length; the number itself stands beside it. */
function bar(way, { slowest }) {
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

const idOf = (name, way) => `take-${`${name} ${way}`.toLowerCase().replace(/[^a-z0-9]+/g, "-")}`;
