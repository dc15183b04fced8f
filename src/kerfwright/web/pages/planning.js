import { fill, h } from "./ui.js";

export function create(order) {
  const element = h("div", {});
  return { element, show: () => fill(element, h("p", { class: "soft" }, `Plan: ${order.data.plan}`)) };
}
