/* The form for a new order: drawings first, then the few things that only people know. */

import { upload } from "./api.js";
import { dropping } from "./dropping.js";
import { action, fill, h, say } from "./ui.js";

/* begun(slug) is called when the order is there. */
export function newOrder(offered, begun) {
  const form = h("form", { class: "begin", onsubmit: (event) => event.preventDefault() });
  const place = dropping("Drop drawings here to begin an order: SVG, DXF, PDF or pictures.", (files) => ask(files));

  function ask(files) {
    const material = choice("Material", "material", offered.materials.map((one) => [one.name, one.name]));
    const sheets = h("fieldset", {});
    const title = h("input", { name: "title", required: true, maxlength: 200, value: titleOf(files[0].name) });
    const showSheets = () => fill(sheets, sheetFields(offered, material.querySelector("select").value));
    material.addEventListener("change", showSheets);
    showSheets();
    fill(form,
      h("h2", {}, "New order"),
      h("ul", { class: "files" }, files.map((one) => h("li", {}, one.name))),
      h("div", { class: "row" },
        h("label", {}, h("span", {}, "Title"), title),
        material,
        offered.machines.length > 1 ? choice("Machine", "machine", offered.machines.map((one) => [one.file, one.name])) : null,
        h("label", {}, h("span", {}, "Due, if there is a day"), h("input", { type: "date", name: "due" }))),
      sheets,
      h("div", { class: "row" },
        action("Begin the order", async () => {
          if (!form.reportValidity()) return;
          begun((await upload("/orders", files, fieldsOf(form))).slug);
        }, { class: "main" }),
        h("button", { type: "button", onclick: () => { fill(form); place.hidden = false; place.querySelector("input").focus(); } }, "Cancel")));
    place.hidden = true;
    say(files.length === 1 ? "One drawing." : `${files.length} drawings.`);
    title.focus();
    title.select();
  }

  return h("section", { "data-help": "pages/new-order", "aria-label": "New order" }, place, form);
}

function sheetFields(offered, name) {
  const material = offered.materials.find((one) => one.name === name);
  const bed = offered.machines[0];
  const sheet = material.sheet ?? { width_mm: bed.bed_width_mm, height_mm: bed.bed_height_mm, count: 1 };
  const size = h("div", { class: "row" },
    number("Width in mm", "sheet_width_mm", sheet.width_mm, 1, "any"),
    number("Height in mm", "sheet_height_mm", sheet.height_mm, 1, "any"),
    number("How many", "sheet_count", sheet.count, 1, 1));
  const from = h("input", { type: "checkbox", name: "from_records", value: "true", checked: material.on_record > 0, onchange: () => { size.hidden = from.checked; } });
  size.hidden = from.checked;
  return [
    h("legend", {}, "Sheets"),
    material.on_record > 0 ? h("label", { class: "beside" }, from, h("span", {}, `Take them from the stock on record (${material.on_record} free)`)) : null,
    size,
    h("p", { class: "small soft" }, material.sheet ? "The size that this material was last worked in." : "As large as the bed; put in what you have."),
  ];
}

const number = (words, name, value, min, step) => h("label", {}, h("span", {}, words), h("input", { type: "number", name, value, min, step, required: true, class: "short" }));

const choice = (words, name, options) => h("label", {}, h("span", {}, words),
  h("select", { name, required: true }, options.map(([value, text]) => h("option", { value }, text))));

function fieldsOf(form) {
  const fields = Object.fromEntries([...new FormData(form)].filter(([, value]) => value !== ""));
  if (fields.from_records) for (const name of ["sheet_width_mm", "sheet_height_mm", "sheet_count"]) delete fields[name];
  return fields;
}

function titleOf(name) {
  const words = name.replace(/\.[^.]*$/, "").replace(/[_-]+/g, " ").trim();
  return words.charAt(0).toUpperCase() + words.slice(1);
}
