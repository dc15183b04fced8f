/* Small pictures of layouts as they get better, one for each sheet. */

import { fill, h, s } from "./ui.js";

const MOST_SHEETS = 8;

export function nestPictures() {
  const shown = new Map();
  const element = h("div", { class: "nest" });
  return {
    element,
    show(layout) {
      shown.set(layout.material, layout);
      fill(element, [...shown.values()].map(figure));
    },
    clear() {
      if (shown.size === 0) return;
      shown.clear();
      fill(element);
    },
  };
}

function figure(layout) {
  const sheets = layout.sheets.slice(0, MOST_SHEETS);
  const more = layout.sheets.length - sheets.length;
  const widest = Math.max(...sheets.map((sheet) => sheet.width_mm), 1);
  return h("figure", {}, h("div", { class: "nest-sheets" }, sheets.map((sheet, index) => picture(layout, sheet, index, widest))),
    h("figcaption", {}, `Best so far on ${layout.material}: ${layout.sheets.length === 1 ? "1 sheet" : `${layout.sheets.length} sheets`}`,
      more > 0 ? `, the first ${sheets.length} of them shown` : null,
      layout.cost ? `, sheets ${layout.cost}` : null,
      layout.left_over > 0 ? `, ${layout.left_over} without a place` : null));
}

function picture(layout, sheet, index, widest) {
  const svg = s("svg", { viewBox: `-1 -1 ${sheet.width_mm + 2} ${sheet.height_mm + 2}`, role: "img",
    "aria-label": `Sheet ${index + 1} of ${layout.material}, ${sheet.name}: ${sheet.count} pieces so far` },
    s("path", { class: "nest-sheet", d: sheet.outline }), s("path", { class: "nest-parts", d: sheet.parts, "fill-rule": "evenodd" }));
  svg.style.setProperty("width", `${((13 * sheet.width_mm) / widest).toFixed(2)}rem`);
  return svg;
}
