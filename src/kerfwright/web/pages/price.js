/* The price of the plan, every line of it, and what it comes to for the customer. */

import { get } from "./api.js";
import { duration, facts, fill, h, problem } from "./ui.js";

export const id = "price";
export const title = "Price";
export const help = "rates";

export function create(order) {
  const element = h("div", {});
  const show = async () => {
    if (!order.data.plan_document) {
      fill(element, h("p", { class: "soft" }, "The price is known once the order is planned."));
      return;
    }
    try {
      const { quote, why_not: whyNot } = await get(`${order.path}/price`);
      fill(element, quote ? reckoning(order, quote) : h("p", { class: "soft" }, whyNot));
    } catch (error) {
      fill(element, problem(error));
    }
  };
  return { element, show };
}

const amount = (text, currency) => `${text} ${currency}`;

function reckoning(order, quote) {
  const file = (name) => `/api${order.path}/files/${name}`;
  const lines = (head, list) => h("tbody", {},
    h("tr", {}, h("th", { colspan: 3, scope: "rowgroup" }, head)),
    list.map((line) => h("tr", {}, h("td", {}, line.what), h("td", { class: "soft" }, line.how), h("td", { class: "num" }, line.amount))));
  return [
    order.data.plan === "current" ? null : h("p", { class: "banner" }, "The order was changed since it was planned: this is the price of the earlier plan."),
    facts([["To be paid", amount(quote.total, quote.currency)], ["Before tax", amount(quote.net, quote.currency)],
      ["Machine", duration(quote.beam_s)], ["Sheets", String(quote.sheets)]]),
    h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Items" }, h("table", {},
      h("caption", { class: "unseen" }, "What each item is sold for, before tax"),
      h("thead", {}, h("tr", {}, ["Item", "Material"].map((name) => h("th", { scope: "col" }, name)), ["Pieces", "Each", "Price"].map((name) => h("th", { class: "num", scope: "col" }, name)))),
      h("tbody", {}, quote.items.map((item) => h("tr", {}, h("th", { scope: "row" }, item.item), h("td", {}, item.material),
        h("td", { class: "num" }, String(item.pieces)), h("td", { class: "num" }, item.each), h("td", { class: "num" }, item.price)))))),
    h("details", {}, h("summary", {}, "Every line of the reckoning"),
      h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Reckoning" }, h("table", {},
        h("caption", { class: "unseen" }, `From costs to the price, in ${quote.currency}`),
        lines("What it costs", quote.costs), lines("From costs to the price", quote.surcharges), lines("Tax", [quote.tax]),
        h("tfoot", {}, h("tr", {}, h("th", { colspan: 2, scope: "row" }, "To be paid"), h("td", { class: "num" }, quote.total)))))),
    h("div", { class: "row" }, h("a", { class: "button", href: file("quote.pdf") }, "Quote as PDF"),
      h("a", { class: "button", href: file("reckoning.html"), target: "_blank" }, "Reckoning to print")),
  ];
}
