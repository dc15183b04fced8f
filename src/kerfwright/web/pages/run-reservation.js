/* Sheets in stock that the plan takes: reserved for the order, or released. */

import { get, put, remove } from "./api.js";
import { action, fill, h, problem, say } from "./ui.js";
import { table } from "./tables.js";

export function reservation(order) {
  const path = `${order.path}/reservation`;
  const element = h("div", {});
  const show = (told) => {
    const all = told.sheets.every((one) => one.reserved === one.wanted);
    fill(element, h("h3", {}, "From stock"),
      table("Sheets that the plan takes from stock", [["Label"], ["Taken", true], ["Reserved for this order", true]], told.sheets.map((one) =>
        h("tr", {}, h("th", { scope: "row" }, one.label), h("td", { class: "num" }, String(one.wanted)), h("td", { class: "num" }, String(one.reserved))))),
      h("div", { class: "row no-print" },
        all ? null : action("Reserve these sheets", () => change(put(path, {}), "Reserved.")),
        told.sheets.some((one) => one.reserved) ? action("Release them", () => change(remove(path), "Released.")) : null));
  };
  const change = async (work, words) => {
    show(await work);
    say(words);
  };
  get(path).then(show, (error) => fill(element, problem(error)));
  return element;
}
