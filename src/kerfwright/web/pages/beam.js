import { fill, h } from "./ui.js";

export const id = "beam";
export const title = "Beam order";
export const help = "sequence";

export function create(order) {
  const element = h("div", {});
  return { element, show: () => fill(element, h("p", { class: "soft" }, order.data.plan_document ? "" : "Not planned yet.")) };
}
