import { fill, h } from "./ui.js";

export const id = "price";
export const title = "Price";
export const help = "rates";

export function create(order) {
  const element = h("div", {});
  return { element, show: () => fill(element, h("p", { class: "soft" }, order.data.plan_document ? "" : "Not planned yet.")) };
}
