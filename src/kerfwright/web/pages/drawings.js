import { fill, h } from "./ui.js";

export const id = "drawings";
export const title = "Drawings";
export const help = "drawing";

export function create(order) {
  const element = h("div", {});
  return { element, show: () => fill(element, h("p", { class: "soft" }, order.data.plan_document ? "" : "Not planned yet.")) };
}
