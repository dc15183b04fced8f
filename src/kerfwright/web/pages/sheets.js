/* Sheets: which may be used, what lies where, what is left; parts are pinned and areas kept free by hand. */

import { get } from "./api.js";
import { fill, findings, h, problem } from "./ui.js";
import { sheetCard } from "./sheet_card.js";
import { folded, isLoad, loadCard } from "./sheet_load.js";
import { stockForm } from "./sheet_stock.js";

export const id = "sheets";
export const title = "Sheets";
export const help = "nesting";

export function create(order) {
  const element = h("div", {});
  const [stock, cards, told] = [h("div", {}), h("div", {}), h("div", {})];
  element.append(stock, told, cards);
  let shownPlan = null;
  const show = async () => {
    fill(stock, stockForm(order));
    const plan = order.data.plan_document;
    if (!plan) {
      fill(cards, h("p", { class: "soft" }, "The layout is shown once the order is planned."));
      return;
    }
    try {
      const { sheets } = await get(`${order.path}/sheets`);
      shownPlan = plan;
      fill(cards, order.data.plan === "current" ? null : h("p", { class: "banner" }, "The order was changed since it was planned; this is the earlier layout."),
        folded(sheets).map((alike) => (isLoad(alike[0]) ? loadCard(order, alike) : sheetCard(order, sheets, alike[0]))));
      const { decisions } = await import("./decisions.js");
      const own = plan.decisions.filter((one) => one.code.startsWith("nesting/"));
      const found = plan.findings.filter((one) => one.code.startsWith("nesting/") || one.code.startsWith("stock/"));
      fill(told, own.length ? decisions(order, own) : null, found.length ? findings(found) : null);
    } catch (error) {
      if (shownPlan !== plan) fill(cards, problem(error));
    }
  };
  return { element, show };
}
