/* Areas of a sheet that no part may lie on: drawn by hand, or given in numbers. */

import { action, fill, h, s } from "./ui.js";

export function keptFree(order, sheet, picture) {
  if (sheet.stock === null) {
    return h("p", { class: "small soft" }, "This sheet comes from the stock on record; areas to keep free are noted for the order's own sheets.");
  }
  const input = (name, words) => [name, h("input", { type: "number", step: "0.1", required: true, "aria-label": words, size: 7 })];
  const fields = new Map([input("x_mm", "Left edge in mm"), input("y_mm", "Lower edge in mm"), input("width_mm", "Width in mm"), input("height_mm", "Height in mm")]);
  const why = h("input", { placeholder: "a knot, a clamp …" });
  const names = { x_mm: "Left edge", y_mm: "Lower edge", width_mm: "Width", height_mm: "Height" };
  const draw = h("button", { type: "button", "aria-pressed": "false", onclick: () => drawing(draw.getAttribute("aria-pressed") !== "true") }, "Draw it on the sheet");
  let stop = null;

  function drawing(wanted) {
    draw.setAttribute("aria-pressed", String(wanted));
    picture.svg.classList.toggle("drawing", wanted);
    stop?.();
    stop = wanted ? listen() : null;
  }

  function listen() {
    const shown = s("rect", { class: "kept-free" });
    let from = null;
    const down = (event) => { event.preventDefault(); event.stopPropagation(); from = picture.point(event); picture.over.append(shown); picture.svg.setPointerCapture(event.pointerId); };
    const move = (event) => {
      if (!from) return;
      const [x, y] = picture.point(event);
      const clamp = (value, most) => Math.min(Math.max(value, 0), most);
      const [x0, x1] = [from[0], x].map((value) => clamp(value, sheet.width_mm)).sort((a, b) => a - b);
      const [y0, y1] = [from[1], y].map((value) => clamp(value, sheet.height_mm)).sort((a, b) => a - b);
      const size = { x_mm: x0, y_mm: y0, width_mm: x1 - x0, height_mm: y1 - y0 };
      for (const [name, value] of Object.entries(size)) fields.get(name).value = value.toFixed(1);
      for (const [name, value] of Object.entries({ x: x0, y: y0, width: x1 - x0, height: y1 - y0 })) shown.setAttribute(name, value);
    };
    const up = () => { from = null; drawing(false); };
    picture.svg.addEventListener("pointerdown", down, true);
    picture.svg.addEventListener("pointermove", move);
    picture.svg.addEventListener("pointerup", up);
    return () => {
      picture.svg.removeEventListener("pointerdown", down, true);
      picture.svg.removeEventListener("pointermove", move);
      picture.svg.removeEventListener("pointerup", up);
    };
  }

  const at = ["stock", sheet.stock, "keep_out"];
  const form = h("form", { onsubmit: (event) => event.preventDefault() },
    h("div", { class: "row" }, [...fields].map(([name, control]) => h("label", {}, h("span", {}, `${names[name]} in mm`), control)), h("label", {}, h("span", {}, "What is there"), why)),
    h("div", { class: "row" }, draw, action("Keep free, and lay all anew", async () => {
      if (!form.reportValidity()) return;
      const value = Object.fromEntries([...fields].map(([name, control]) => [name, Number(control.value)]));
      if (why.value.trim()) value.why = why.value.trim();
      const { length } = order.data.order.stock[sheet.stock]?.keep_out ?? [];
      await order.change([{ at: [...at, length], value }], { replan: true });
    })));
  const list = h("ul", {});
  fill(list, sheet.kept_free.map((zone) => h("li", {}, zone.why || "an area", " ",
    action("Use again", () => order.change([{ at: [...at, zone.number], value: null }], { replan: true, since: order.planned }), { class: "plain", once: true, "aria-label": `Use again: ${zone.why || "an area"}` }))));
  return h("details", {}, h("summary", {}, `Areas to keep free${sheet.kept_free.length ? ` (${sheet.kept_free.length})` : ""}`),
    h("p", { class: "small soft" }, `They hold for every sheet called ${sheet.name}.`), list, form);
}
