import { fill, h } from "./ui.js";

export const id = "parts";
export const title = "Parts";
export const help = "parts";

export function create(order) {
  const element = h("div", {});
  return { element, show: () => fill(element, h("p", { class: "soft" }, order.data.plan_document ? "" : "Not planned yet.")) };
}
