/* The sheets that the order may use, and whether the stock on record is used too. */

import { action, fill, h, problem } from "./ui.js";

export function stockForm(order) {
  const { stock, stock_from: from, items } = order.data.order;
  const own = stock.map((sheet, index) => ({ sheet, index }));
  const materials = [...new Set(items.map((item) => item.material))];
  const field = (name, attributes) => h("label", {}, h("span", {}, name), h("input", attributes));
  const form = h("form", { onsubmit: (event) => event.preventDefault() }, h("div", { class: "row" },
    h("label", {}, h("span", {}, "Material"), h("select", { name: "material" }, materials.map((name) => h("option", {}, name)))),
    field("Called", { name: "name", required: true, size: 14 }),
    field("Width in mm", { name: "width_mm", type: "number", min: 1, step: "0.1", required: true, size: 7 }),
    field("Height in mm", { name: "height_mm", type: "number", min: 1, step: "0.1", required: true, size: 7 }),
    field("How many", { name: "count", type: "number", min: 1, value: 1, required: true, size: 5 }),
    h("label", { class: "beside" }, h("input", { type: "checkbox", name: "offcut" }), h("span", {}, "an offcut")),
    action("Add", async () => {
      if (!form.reportValidity()) return;
      const given = Object.fromEntries(new FormData(form));
      const value = { material: given.material, name: given.name.trim(), width_mm: Number(given.width_mm), height_mm: Number(given.height_mm), count: Number(given.count) };
      if ("offcut" in given) value.offcut = true;
      await order.change([{ at: ["stock", order.data.order.stock.length], value }]);
    })));
  const trouble = h("div", {});
  const change = (at, value) => order.change([{ at, value }]).catch((error) => fill(trouble, problem(error)));
  const records = h("input", { type: "checkbox", checked: from === "records", onchange: () => change(["stock_from"], records.checked ? "records" : null) });
  return fill(h("details", { open: stock.length === 0 && from !== "records" && items.some((item) => !item.fixture) }),
    h("summary", {}, "Sheets that may be used"),
    h("label", { class: "beside" }, records, h("span", {}, "Also sheets and offcuts from the stock on record")),
    trouble,
    h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Sheets that may be used" }, h("table", {}, h("caption", { class: "unseen" }, "Sheets that may be used"),
      h("thead", {}, h("tr", {}, ["Material", "Called", "Size in mm", "How many", ""].map((name) => h("th", { scope: "col" }, name || h("span", { class: "unseen" }, "Do"))))),
      h("tbody", {}, own.map(({ sheet, index }) => h("tr", {}, h("td", {}, sheet.material), h("th", { scope: "row" }, sheet.name, sheet.offcut ? h("span", { class: "soft" }, " offcut") : null),
        h("td", {}, `${sheet.width_mm} × ${sheet.height_mm}`),
        h("td", {}, h("input", { id: `count-${index}`, "aria-label": `How many ${sheet.name}`, type: "number", min: 1, value: sheet.count, size: 4, onchange: (event) => change(["stock", index, "count"], Number(event.target.value)) })),
        h("td", {}, action("Take out", () => order.change([{ at: ["stock", index], value: null }]), { class: "plain", once: true, "aria-label": `Take out ${sheet.name} of ${sheet.material}` }))))))), form);
}
