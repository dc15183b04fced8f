/* Blanks in a fixture, which lies there instead of a sheet: one card for all loads that are alike. */

import { pocketsPicture } from "./fixture_picture.js";
import { many } from "./drawn.js";
import { box } from "./sheet_picture.js";
import { duration, h } from "./ui.js";

export const isLoad = (sheet) => sheet.pockets.length > 0;

/* Sheets with those whose program is the same: [[sheet, …alike], …], in their order. */
export function folded(sheets) {
  return sheets.filter((one) => one.same_as === null).map((one) => [one, ...sheets.filter((other) => other.same_as === one.number)]);
}

/* "Sheet 1", "Sheets 1 to 3", "Sheets 1, 2 and 5". */
export function numbersInWords(numbers) {
  if (numbers.length === 1) return `Sheet ${numbers[0]}`;
  if (numbers.length > 2 && numbers.at(-1) - numbers[0] === numbers.length - 1) return `Sheets ${numbers[0]} to ${numbers.at(-1)}`;
  return `Sheets ${numbers.slice(0, -1).join(", ")} and ${numbers.at(-1)}`;
}

export function loadCard(order, alike) {
  const [sheet] = alike;
  const planned = order.data.plan_document.sheets.find((one) => one.number === sheet.number);
  const empty = sheet.pockets.filter((one) => !one.filled).length;
  const unused = sheet.pockets.filter((one) => !one.in_use).length;
  const words = [`${many(sheet.parts.length, "blank")} in ${many(sheet.pockets.length, "pocket")}`, unused ? `${unused} out of use` : null, planned ? `${duration(planned.time_s)}${alike.length > 1 ? " each" : ""}` : null].filter(Boolean).join(" · ");
  const names = [...new Set(sheet.parts.map((part) => part.name))];
  return h("article", { class: "card", "data-help": "fixtures" },
    h("h3", {}, `${numbersInWords(alike.map((one) => one.number))}: ${sheet.name}, ${sheet.material}`),
    h("p", { class: "soft" }, words),
    alike.length > 1 ? h("p", {}, `These ${alike.length} loads are alike: one program, run ${alike.length} times with new blanks each time.`) : null,
    h("div", { class: "beside-picture" },
      h("figure", {}, picture(sheet, words),
        h("figcaption", {}, [empty > unused ? "Hatched pockets stay empty." : null, unused ? "Crossed pockets are out of use." : null, "Blanks lie where their pockets are, so nothing is moved or pinned here."].filter(Boolean).join(" "))),
      h("div", {}, h("h4", {}, "Blanks by the numbers of their pockets"), names.length === 1
        ? h("p", {}, `All ${sheet.parts.length}: ${names[0]}`)
        : h("ol", { class: "blanks" }, sheet.pockets.filter((one) => one.filled).map((pocket) => h("li", { value: pocket.number }, sheet.parts[partIn(sheet, pocket)].name))))));
}

/* Which part lies in a pocket: its outline is the pocket's. */
function partIn(sheet, pocket) {
  const [x0, y0, x1, y1] = box(pocket.ring);
  const [x, y] = [(x0 + x1) / 2, (y0 + y1) / 2];
  const far = sheet.parts.map((part) => { const [a, b, c, d] = box(part.rings[0]); return Math.hypot((a + c) / 2 - x, (b + d) / 2 - y); });
  return far.indexOf(Math.min(...far));
}

function picture(sheet, words) {
  const pockets = sheet.pockets.map((pocket) => {
    const part = pocket.filled ? sheet.parts[partIn(sheet, pocket)] : null;
    return { ...pocket, marks: part ? { areas: "", lines: part.marks.map((line) => `M${line.map(([x, y]) => `${x} ${y}`).join("L")}`).join("") } : null };
  });
  return pocketsPicture(box(sheet.outline[0]), pockets, { label: `${sheet.name} with ${words}` }).svg;
}
