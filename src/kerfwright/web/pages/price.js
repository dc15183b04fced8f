/* The price of the plan, every line of it, and what it comes to for the customer. */

import { get } from "./api.js";
import { action, duration, facts, fill, h, problem } from "./ui.js";
import { comparison } from "./price-compare.js";

export const id = "price";
export const title = "Price";
export const help = "rates";

export function create(order) {
  const price = h("div", {});
  const beside = comparison(order);
  const element = h("div", {}, price, beside.element);
  const show = async () => {
    try {
      const told = await get(`${order.path}/price`);
      fill(price, told.quote ? reckoning(order, told) : noPrice(order, told));
      beside.show(told);
    } catch (error) {
      fill(price, problem(error));
    }
  };
  return { element, show };
}

function noPrice(order, told) {
  const planned = Boolean(order.data.plan_document);
  return [h("p", { class: "soft" }, told.why_not), rates(order, told), told.rates && planned ? action("Plan it again with the rates", () => order.tell("replan")) : null];
}

/* An order without rates can go by the workshop's. */
function rates(order, told) {
  if (told.rates) return null;
  if (!told.workshop_rates) {
    return h("p", {}, "The workshop has no file rates.toml yet. It says what an hour, a sheet and a part cost; ", h("a", { href: "/help/rates", target: "_blank" }, "Rates and quotes"), " has one to begin with.");
  }
  return h("p", {}, action("Go by the workshop's rates", () => order.change([{ at: ["rates"], value: told.workshop_rates }], { replan: true })));
}

const amount = (text, currency) => `${text} ${currency}`;

function reckoning(order, told) {
  const { quote } = told;
  const file = (name) => `/api${order.path}/files/${name}`;
  const lines = (head, list) => h("tbody", {},
    h("tr", {}, h("th", { colspan: 3, scope: "rowgroup" }, head)),
    list.map((line) => h("tr", {}, h("td", {}, line.what), h("td", { class: "soft" }, line.how), h("td", { class: "num" }, line.amount))));
  return [
    order.data.plan === "current" ? null : h("p", { class: "banner" }, "The order was changed since it was planned: this is the price of the earlier plan."),
    told.rates_changed ? h("div", { class: "banner" }, h("p", {}, "The rates were changed since the order was planned: this is the price by the earlier ones."), action("Plan it again with the rates", () => order.tell("replan"))) : null,
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
