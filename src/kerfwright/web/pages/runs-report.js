/* What orders came to: expected against real time, material, earnings an hour. */

import { get } from "./api.js";
import { duration, h, percent } from "./ui.js";
import { table } from "./tables.js";

const chosen = { since: "" };

export async function report(again) {
  const told = await get(`/report${chosen.since ? `?since=${chosen.since}` : ""}`);
  const since = h("div", { class: "row no-print" },
    h("label", {}, h("span", {}, "Orders last run on this day or later"), h("input", { id: "report-since", type: "date", value: chosen.since, onchange: (event) => { chosen.since = event.target.value; again(); } })),
    h("button", { type: "button", onclick: () => window.print() }, "Print this page"));
  if (told.orders.length === 0) return [chosen.since ? since : null, h("p", { class: "soft" }, "No order on record has a recorded run yet.")];
  const all = told.orders.length > 1 ? [figures({ ...told.together, title: "All together" })] : [];
  return [since,
    chosen.since ? h("p", { class: "small" }, `Orders last run on ${chosen.since} or later.`) : null,
    table("Expected and real, by order", [["Order"], ["Expected", true], ["Took", true], ["Took of expected", true], ["Made again", true], ["Parts no good", true], ["Laid in", true], ["Became parts", true], ["Earned an hour", true]],
      [...told.orders.map(figures), ...all]),
    h("h3", {}, "Material laid in"),
    table("Material laid in", [["Material"], ["Sheets", true], ["Area", true], ["Became parts", true]], told.materials.map((one) =>
      h("tr", {}, h("th", { scope: "row" }, one.material), h("td", { class: "num" }, String(one.sheets)), h("td", { class: "num" }, area(one.sheets_mm2)), h("td", { class: "num" }, share(one.parts_mm2, one.sheets_mm2)))))];
}

const figures = (one) => h("tr", {}, h("th", { scope: "row" }, one.title, one.reference ? h("div", { class: "soft small" }, one.reference) : null),
  h("td", { class: "num" }, duration(one.expected_s)), h("td", { class: "num" }, duration(one.actual_s)), h("td", { class: "num" }, share(one.actual_s, one.expected_s)),
  h("td", { class: "num" }, String(one.remakes)), h("td", { class: "num" }, String(one.scrapped_parts)), h("td", { class: "num" }, area(one.sheets_mm2)), h("td", { class: "num" }, share(one.parts_mm2, one.sheets_mm2)),
  h("td", { class: "num" }, one.an_hour ? `${one.an_hour} ${one.currency}` : "–"));

const share = (part, whole) => (whole ? percent(part / whole) : "–");
const area = (mm2) => `${(mm2 / 1e6).toFixed(mm2 < 1e5 ? 3 : 2)} m²`;
