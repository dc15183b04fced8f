/* What every order was quoted at, with its papers. */

import { get } from "./api.js";
import { duration, fill, h, page, problem } from "./ui.js";
import { table, unseen } from "./tables.js";
import "./help.js";

const box = h("div", {});

const addressOf = (one) => `/orders/${encodeURIComponent(one.slug)}`;

function quotes(known) {
  if (known.length === 0) return h("p", { class: "soft" }, "No orders yet.");
  return table("Orders and their prices", [["Order"], ["Due"], ["Pieces", true], ["Machine", true], ["Before tax", true], ["To be paid", true], ["How it stands"], [unseen("Papers")]], known.map(row));
}

function row(one) {
  const { quote } = one;
  const amount = (text) => `${text} ${quote.currency}`;
  return h("tr", {},
    h("th", { scope: "row" }, h("a", { href: `${addressOf(one)}#price` }, one.title)), h("td", { class: "whole" }, one.due ?? "–"),
    ...(quote ? [String(quote.items.reduce((sum, item) => sum + item.pieces, 0)), duration(quote.beam_s), amount(quote.net), amount(quote.total)] : ["–", "–", "–", "–"]).map((words) => h("td", { class: "num" }, words)),
    h("td", { class: "stands" }, stands(one)),
    h("td", { class: "no-print" }, quote ? papers(one) : null));
}

function stands({ quote, why_not: why, plan, rates_changed: changed }) {
  if (!quote) return why;
  if (plan !== "current") return changed ? "The rates were changed since it was planned." : "The order was changed since it was planned.";
  return "Its plan is as the order is now.";
}

function papers(one) {
  const file = (name) => `/api${addressOf(one)}/files/${name}`;
  return [h("a", { href: file("quote.pdf") }, "Quote", unseen(` of ${one.title} as PDF`)), " · ",
    h("a", { href: file("reckoning.html"), target: "_blank" }, "Reckoning", unseen(` of ${one.title}`))];
}

page("Quotes", h("section", { "data-help": "pages/prices", "aria-label": "Quotes" },
  h("p", { class: "soft" }, "Prices are those of the plans as they were last made; what the customer gets is the paper."), box));
try {
  fill(box, quotes(await get("/quotes")));
} catch (error) {
  fill(box, problem(error));
}
