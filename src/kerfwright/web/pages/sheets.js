import { fill, h } from "./ui.js";

export const id = "sheets";
export const title = "Sheets";
export const help = "nesting";

export function create(order) {
  const element = h("div", {});
  return { element, show: () => fill(element, h("p", { class: "soft" }, order.data.plan_document ? "" : "Not planned yet.")) };
}
