/* Sheets: which may be used, what lies where, what is left; parts are pinned and areas kept free by hand. */

import { get } from "./api.js";
import { fill, findings, h, problem } from "./ui.js";
import { sheetCard } from "./sheet_card.js";
import { folded, isLoad, loadCard } from "./sheet_load.js";
import { stockForm } from "./sheet_stock.js";
import { whenChanged } from "./when-changed.js";

export const id = "sheets";
export const title = "Sheets";
export const help = "nesting";

export function create(order) {
  const element = h("div", {});
  const [stock, cards, told, age] = [h("div", {}), h("div", {}), h("div", {}), h("div", {})];
  element.append(stock, told, age, cards);
  let [fetched, sheets, asked] = [null, [], 0];
  /* Counts layouts: whole outlines of all parts are compared when they come, not at every change. */
  let [shown, layout] = ["", 0];
  const showStock = whenChanged(() => fill(stock, stockForm(order)));
  const showCards = whenChanged(() => fill(cards, order.data.plan_document ? layouts() : h("p", { class: "soft" }, "The layout is shown once the order is planned.")));
  const layouts = () => folded(sheets).map((alike) => (isLoad(alike[0]) ? loadCard(order, alike) : sheetCard(order, sheets, alike[0])));
  const showAge = whenChanged(() => fill(age, order.data.plan === "out-of-date" ? h("p", { class: "banner" }, "The order was changed since it was planned; this is the earlier layout.") : null));
  const showProblem = (error) => {
    showCards("trouble");
    fill(cards, problem(error));
  };
  const showTold = whenChanged(() => showDecisions(order, told));

  const show = async () => {
    const turn = ++asked;
    const { plan, order: wanted, plan_document: made } = order.data;
    showStock([wanted.stock, wanted.stock_from, wanted.items.map((item) => [item.material, item.fixture])]);
    showAge(plan);
    if (!made) {
      fetched = null;
      showCards(null);
      return;
    }
    const print = JSON.stringify(made);
    try {
      if (print !== fetched) {
        const answer = await get(`${order.path}/sheets`);
        if (turn !== asked) return;
        [sheets, fetched] = [answer.sheets, print];
        const all = JSON.stringify([print, sheets]);
        if (all !== shown) [shown, layout] = [all, layout + 1];
      }
      showCards([layout, wanted.guides, wanted.stock, wanted.fixtures, wanted.items.map((item) => [item.material, item.pinned, item.fixture])]);
      showTold([layout, wanted, order.data.currency]);
    } catch (error) {
      if (turn === asked && fetched !== print) showProblem(error);
    }
  };
  order.on("planned", () => {
    fetched = null;
    show();
  });
  return { element, show };
}

async function showDecisions(order, element) {
  const plan = order.data.plan_document;
  const { decisions } = await import("./decisions.js");
  const own = plan.decisions.filter((one) => one.code.startsWith("nesting/"));
  const found = plan.findings.filter((one) => one.code.startsWith("nesting/") || one.code.startsWith("stock/"));
  fill(element, own.length ? decisions(order, own) : null, found.length ? findings(found) : null);
}
