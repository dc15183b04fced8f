/* One sheet: its picture, the part that is chosen with what can be done to it, areas kept free, guides. */

import { post } from "./api.js";
import { many } from "./drawn.js";
import { action, duration, fill, h, mm, percent, say } from "./ui.js";
import { Moving } from "./sheet_moving.js";
import { sheetPicture } from "./sheet_picture.js";
import { pinChanges, releaseChanges } from "./sheet_pins.js";
import { keptFree } from "./sheet_kept_free.js";
import { guideForm } from "./sheet_guides.js";

export function sheetCard(order, sheets, sheet) {
  const planned = order.data.plan_document.sheets.find((one) => one.number === sheet.number);
  const guides = order.data.order.guides.filter((guide) => guide.sheet === sheet.name);
  const picture = sheetPicture(sheet, guides);
  const chosen = h("div", { class: "chosen no-print" }, h("p", { class: "soft small" }, hint));
  const troubles = new Map();
  let asked = 0;
  const moving = new Moving(sheet, picture, guides, {
    chosen: (n) => { showChosen(n); order.tell("select", { item: sheet.parts[n].item, part: sheet.parts[n].part }); },
    changed: async (n) => {
      showChosen(n);
      const turn = ++asked;
      const moved = [...moving.moves].map(([part, move]) => { const [x, y] = moving.boxNow(part); return { part, x_mm: x, y_mm: y, turned_deg: move.turn }; });
      const found = moved.length ? await post(`${order.path}/sheets/${sheet.number}/check`, { moved }) : [];
      if (turn !== asked) return;
      troubles.clear();
      for (const one of found) troubles.set(one.part, [...(troubles.get(one.part) ?? []), one.words]);
      picture.parts.forEach((group, part) => group.classList.toggle("clash", troubles.has(part)));
      showChosen(n);
    },
  });

  function showChosen(n) {
    const part = sheet.parts[n];
    const [x0, y0, x1, y1] = moving.boxNow(n);
    const number = (name, value, put) => h("label", {}, h("span", {}, name), h("input", { id: `at-${name}-${sheet.number}`, type: "number", step: "0.1", value: value.toFixed(2), onchange: (event) => { put(Number(event.target.value)); moving.changed(n); } }));
    const align = (words, way) => h("button", { type: "button", onclick: () => { moving.align(n, way); moving.changed(n); } }, words);
    const wrong = troubles.get(n) ?? [];
    fill(chosen,
      h("h4", {}, `${part.name}, number ${part.instance}`, part.pinned ? h("span", { class: "word pin-word" }, "pinned") : null),
      h("p", { class: "small soft" }, `${mm(x1 - x0)} × ${mm(y1 - y0)}`),
      h("div", { class: "row" }, number("x", x0, (x) => moving.putAt(n, x, moving.boxNow(n)[1])), number("y", y0, (y) => moving.putAt(n, moving.boxNow(n)[0], y)),
        h("button", { type: "button", onclick: () => { moving.turn(n); moving.changed(n); } }, "Turn a quarter"),
        h("button", { type: "button", disabled: !moving.moves.has(n), onclick: () => { moving.putBack(n); moving.changed(n); } }, "Put back")),
      h("div", { class: "row", role: "group", "aria-label": "Line up with the sheet" }, align("Left", { across: "left" }), align("Centre", { across: "centre" }), align("Right", { across: "right" }), align("Bottom", { up: "bottom" }), align("Middle", { up: "middle" }), align("Top", { up: "top" })),
      wrong.length ? h("p", { class: "clash-words", role: "status" }, `It cannot lie there: ${wrong.join("; ")}.`) : null,
      part.mirrored ? h("p", { class: "soft small" }, "It lies with its other face up, and so cannot be pinned.") : part.item === null ? null : h("div", { class: "row" },
        action("Pin here and lay the rest anew", async () => {
          await order.change(pinChanges(order, sheets, sheet, [n], moving), { replan: true });
          say(`${part.name} is pinned.`);
        }, { class: "main", disabled: wrong.length > 0 }),
        part.pinned ? action("Release, and lay all anew", () => order.change(releaseChanges(order, sheets, sheet, n), { replan: true })) : null));
  }

  const all = sheet.parts.map((_, n) => n).filter((n) => !sheet.parts[n].pinned && !sheet.parts[n].mirrored && sheet.parts[n].item !== null);
  return h("article", { class: "card", "data-help": "nesting" },
    h("h3", {}, `Sheet ${sheet.number}: ${sheet.material}, ${sheet.name}`),
    h("p", { class: "soft" }, [`${mm(sheet.width_mm)} × ${mm(sheet.height_mm)}`, sheet.offcut ? "an offcut" : null, many(sheet.parts.length, "part"), `${percent(sheet.used_fraction)} used`, planned ? duration(planned.time_s) : null].filter(Boolean).join(" · ")),
    h("div", { class: "beside-picture" },
      h("figure", {}, picture.svg, h("figcaption", {}, leftWords(sheet))),
      h("div", {}, chosen,
        all.length ? action("Keep this sheet as it lies", () => order.change(pinChanges(order, sheets, sheet, all, moving), { replan: false })) : null,
        keptFree(order, sheet, picture), guideForm(order, sheet))));
}

const hint = "Choose a part with the pointer or Tab. Drag it, or use the arrow keys (Shift: 10 mm, Alt: 0.1 mm), R to turn it, Escape to put it back.";

function leftWords(sheet) {
  if (!sheet.left?.rectangle) return "Nothing worth keeping is left of it.";
  const [x0, y0, x1, y1] = sheet.left.rectangle;
  const size = `${Math.floor(x1 - x0)} × ${Math.floor(y1 - y0)} mm`;
  return sheet.left.worth_keeping ? `Left of it: the dashed piece; a rectangle of ${size} can be cut from it.` : `The largest rectangle left, ${size}, is not worth keeping.`;
}
