import { fill, h } from "./ui.js";

export const id = "run";
export const title = "Run";
export const help = "records";

export function create(order) {
  const element = h("div", {});
  return { element, show: () => fill(element, h("p", { class: "soft" }, order.data.plan_document ? "" : "Not planned yet.")) };
}
