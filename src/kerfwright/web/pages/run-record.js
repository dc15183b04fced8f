/* What a run took, which parts were spoilt, and what came back into stock. */

import { post } from "./api.js";
import { action, fill, h, problem, say } from "./ui.js";
import { excerpt } from "./run-excerpt.js";
import { lotPicture } from "./stock-picture.js";
import { printLabels } from "./stock-labels.js";

const MANY = 24;

const field = (name, attributes) => h("label", {}, h("span", {}, name), h("input", attributes));

/* alike: the sheet, or several that one program is run for, one after the other. */
export function recordForm(order, alike) {
  const done = h("div", { role: "status" });
  const parts = h("div", {});
  let [sheet] = alike;
  let spoilt = null;
  const take = (one) => {
    sheet = one;
    spoilt = spoiltParts(sheet);
    fill(parts, spoilt.element);
  };
  const which = h("select", { name: "sheet", onchange: () => take(alike[which.selectedIndex]) }, alike.map((one, n) => h("option", { value: one.number }, `${n + 1} of ${alike.length}, sheet ${one.number}`)));
  take(sheet);
  const form = h("form", { onsubmit: async (event) => {
    event.preventDefault();
    try {
      const told = await post(`${order.path}/runs`, asked(new FormData(form), sheet));
      fill(done, told.words.map((one) => h("p", {}, one)), told.offcuts.map(cameBack), again(order, sheet, told.spoilt));
      say(told.words.join(" "));
      form.reset();
      const next = alike[alike.indexOf(sheet) + 1] ?? sheet;
      which.value = next.number;
      take(next);
    } catch (error) {
      fill(done, problem(error));
    }
  } },
    h("div", { class: "row" },
      alike.length > 1 ? h("label", {}, h("span", {}, "Which run"), which) : null,
      field("It took", { name: "minutes", placeholder: "31:40", required: true, size: 8, "aria-describedby": `took-${alike[0].number}` }),
      field("Day", { name: "ran_on", type: "date" }),
      field("Piece laid in, if not the planned one", { name: "laid_in", size: 8 }),
      field("Note", { name: "note", maxlength: 300 })),
    h("p", { class: "small soft", id: `took-${alike[0].number}` }, "Minutes and seconds, such as 31:40, or 1:02:30."),
    parts,
    h("div", { class: "row" },
      h("label", { class: "beside" }, h("input", { type: "checkbox", name: "again" }), h("span", {}, "Run another time")),
      h("label", { class: "beside" }, h("input", { type: "checkbox", name: "sure" }), h("span", {}, "Sure, although it looks unlikely")),
      h("button", {}, "Record the run")));
  return h("details", {}, h("summary", {}, "Record what it took"), form, done);
}

function asked(given, sheet) {
  const run = { sheet: sheet.number, minutes: given.get("minutes"), note: given.get("note"), again: given.has("again"), sure: given.has("sure"), scrapped: given.getAll("scrapped") };
  for (const name of ["ran_on", "laid_in"]) if (given.get(name)) run[name] = given.get(name);
  return run;
}

/* The sheet's parts, to be ticked where they were no good; made when somebody opens them, as a sheet may hold thousands. */
function spoiltParts(sheet) {
  const names = (sheet.parts ?? []).map((part) => `${part.name}#${part.instance}`);
  const head = h("summary", {}, "Parts no good: none");
  let rows = [];
  const row = (name) => h("label", { class: "beside", "data-name": name.toLowerCase() }, h("input", { type: "checkbox", name: "scrapped", value: name }), h("span", {}, name));
  const box = h("div", { class: "spoilt", role: "group", "aria-label": "Parts no good", onchange: () => count() });
  const filter = (event) => {
    const words = event.target.value.toLowerCase();
    for (const row of rows) row.hidden = !row.dataset.name.includes(words) && !row.querySelector("input").checked;
  };
  const count = () => {
    const ticked = box.querySelectorAll("input:checked").length;
    head.textContent = `Parts no good: ${ticked || "none"}`;
  };
  const open = () => {
    if (rows.length || !element.open) return;
    rows = names.map(row);
    fill(box, rows);
  };
  const element = h("details", { ontoggle: open }, head,
    names.length > MANY ? h("label", {}, h("span", {}, "Only parts with"), h("input", { type: "search", oninput: filter, onkeydown: (event) => { if (event.key === "Enter") event.preventDefault(); } })) : null, box);
  return { element, count };
}

function again(order, sheet, spoilt) {
  if (spoilt.length === 0) return null;
  return [h("p", {}, "A part made again burns where it lay: lay material there that has not been cut."),
    spoilt.map((name) => {
      const made = h("div", {});
      return h("div", { class: "row" }, action(`Make ${name} again`, () => excerpt(order, sheet, { part: name }, made)), made);
    })];
}

const cameBack = (lot) => h("div", { class: "offcut-back" }, lotPicture(lot), h("p", {}, "Came back into stock as ", h("strong", {}, lot.label), "."),
  action(`Label ${lot.label} to print`, () => printLabels([lot.label], { small: true })));
