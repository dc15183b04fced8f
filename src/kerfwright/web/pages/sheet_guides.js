/* Guide lines over a sheet: parts snap to them, and they are never burned. */

import { action, h, mm } from "./ui.js";

export function guideForm(order, sheet) {
  const own = order.data.order.guides.map((guide, index) => ({ guide, index })).filter(({ guide }) => guide.sheet === sheet.name);
  const way = h("select", {}, h("option", { value: "x_mm" }, "upright, from the left"), h("option", { value: "y_mm" }, "level, from below"));
  const at = h("input", { type: "number", step: "0.1", required: true, size: 7 });
  const form = h("form", { class: "row", onsubmit: (event) => event.preventDefault() },
    h("label", {}, h("span", {}, "A line"), way), h("label", {}, h("span", {}, "at mm"), at),
    action("Lay the line", async () => {
      if (!form.reportValidity()) return;
      await order.change([{ at: ["guides", order.data.order.guides.length], value: { sheet: sheet.name, [way.value]: Number(at.value) } }]);
    }));
  return h("details", {}, h("summary", {}, `Guide lines${own.length ? ` (${own.length})` : ""}`),
    h("p", { class: "small soft" }, "Parts snap to them. They are never burned and are in no program."),
    h("ul", {}, own.map(({ guide, index }) => {
      const words = guide.x_mm !== null ? `upright at ${mm(guide.x_mm)}` : `level at ${mm(guide.y_mm)}`;
      return h("li", {}, words, " ", action("Take away", () => order.change([{ at: ["guides", index], value: null }]), { class: "plain", once: true, "aria-label": `Take away the line ${words}` }));
    })), form);
}
