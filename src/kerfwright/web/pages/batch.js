/* The table of an item: a copy of its drawing for each row, with the row's words in it. */

import { get, post, remove, upload } from "./api.js";
import { dropping } from "./dropping.js";
import { many } from "./drawn.js";
import { gone } from "./moved_places.js";
import { action, fill, h, problem, say } from "./ui.js";

const CODES = [["dark", "dark, on a light blank"], ["light", "light, on a dark blank"]];
const CORRECTION = [["L", "L, about 7 %"], ["M", "M, about 15 %"], ["Q", "Q, about 25 %"], ["H", "H, about 30 %"]];
const MOST_ROWS = 12;

/* "row 3", "rows 3, 5 and 7". */
function rowsInWords(rows) {
  const some = rows.slice(0, MOST_ROWS).map(String);
  if (rows.length === 1) return `row ${some[0]}`;
  if (rows.length > MOST_ROWS) return `rows ${some.join(", ")} and ${rows.length - MOST_ROWS} more`;
  return `rows ${some.slice(0, -1).join(", ")} and ${some.at(-1)}`;
}

export class BatchBox {
  constructor(order, n) {
    Object.assign(this, { order, n, shown: "", asked: 0 });
    this.summary = h("summary", {});
    this.content = h("div", {});
    this.undo = h("div", {});
    this.element = h("details", { class: "batch", "data-help": "batch", ontoggle: () => this.load() }, this.summary, this.undo, this.content);
  }

  get path() {
    return this.pathOf(this.n);
  }

  pathOf(n) {
    return `${this.order.path}/items/${n}/batch`;
  }

  /* ask(address of the item's table, digest seen), once it is its turn. */
  changing(ask, options) {
    const { n } = this;
    return this.order.changing((seen, now) => ask(this.pathOf((now(["items", n]) ?? gone())[1]), seen), options);
  }

  get batch() {
    return this.order.data.order.items[this.n]?.batch ?? null;
  }

  show() {
    fill(this.summary, "Names and numbers from a table", h("span", { class: "soft" }, this.batch ? `: ${this.batch.rows}` : ""));
    this.load();
  }

  /* Asks anew when the order says something else of the table; waits while somebody types. */
  async load({ anew = false } = {}) {
    const now = JSON.stringify([this.n, this.batch]);
    if (!this.element.open || (now === this.shown && !anew)) return;
    const asked = ++this.asked;
    let shown = null;
    let error = null;
    if (this.batch) {
      try { shown = await get(this.path); } catch (told) { error = told; }
    }
    if (asked !== this.asked) return;
    this.shown = now;
    fill(this.content, this.batch ? [error ? problem(error) : null, shown ? this.table(shown) : null, this.fields(shown)] : this.words(), this.chooser());
  }

  words() {
    return h("p", { class: "small" }, "One copy is made for each row of a table (CSV, headings in its first row). In the drawing’s text a heading in braces, such as {name}, is replaced by what stands under it; {n} counts the copies.");
  }

  chooser() {
    return h("div", { class: "no-print" }, dropping(this.batch ? "Drop another table here to take its place." : "Drop a table (CSV) here.", ([file]) => this.take(file),
      { multiple: false, button: "Choose a table", accept: ".csv,.tsv,.txt,text/csv" }));
  }

  async take(file) {
    await this.changing(async (path, seen) => {
      await upload(path, [], { table: file }, "POST", { seen });
      return get(this.order.path);
    }, { pageOf: (page) => page });
    fill(this.undo);
    await this.load({ anew: true });
    say(`${file.name} is now the item’s table.`);
  }

  table(shown) {
    const used = new Set(shown.fields);
    const empty = Object.entries(shown.empty);
    const caption = `First rows of ${shown.table}`;
    return [
      shown.missing.length ? h("div", { class: "problem" }, h("p", {}, `The drawing asks for ${shown.missing.map((name) => `{${name}}`).join(", ")}, and the table has no such heading.`), h("p", {}, "Upper and lower case matter. Add the column, or correct the drawing.")) : null,
      shown.fields.length === 0 ? h("p", { class: "banner" }, "The drawing has no fields: all copies would be the same.") : null,
      empty.map(([name, rows]) => h("p", { class: "banner" }, `Nothing stands under “${name}” in ${rowsInWords(rows)}.`)),
      shown.same.map((rows) => h("p", { class: "banner" }, `${rowsInWords(rows).replace("rows", "Rows")} say the same; a copy is made of each.`)),
      h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": caption }, h("table", { class: "rows" },
        h("caption", {}, shown.count > shown.rows.length ? `${caption}: ${shown.rows.length} of ${shown.count}` : `${shown.table}: ${many(shown.count, "row")}`),
        h("thead", {},
          h("tr", {}, h("th", { scope: "col", class: "num" }, "Row"), used.has("n") ? h("th", { scope: "col", class: "num" }, "{n}") : null, shown.headings.map((name) => h("th", { scope: "col" }, name))),
          h("tr", { class: "fills" }, h("td", {}, h("span", { class: "unseen" }, "Where it goes")), used.has("n") ? h("td", {}, "in the drawing") : null,
            shown.headings.map((name) => h("td", {}, used.has(name) ? `fills {${name}}` : "not used")))),
        h("tbody", {}, shown.rows.map((row) => h("tr", {}, h("th", { scope: "row", class: "num" }, String(row.number)), used.has("n") ? h("td", { class: "num" }, String(row.serial)) : null,
          shown.headings.map((name) => h("td", { class: used.has(name) ? null : "soft" }, row.cells[name] === "" && used.has(name) ? h("span", { class: "word" }, "empty") : row.cells[name]))))))),
    ];
  }

  fields(shown) {
    const trouble = h("div", {});
    const set = async (key, value) => {
      fill(trouble);
      try { await this.order.change([{ at: ["items", this.n, "batch", ...key], value }]); } catch (error) { fill(trouble, problem(error)); }
    };
    const number = (words, id, attributes, value, save) => h("label", {}, h("span", {}, words),
      h("input", { type: "number", class: "short", id: `batch-${this.n}-${id}`, value: value ?? "", ...attributes, onchange: (event) => { if (event.target.reportValidity()) save(event.target.value === "" ? null : Number(event.target.value)); } }));
    const choice = (words, key, options, usual) => h("label", {}, h("span", {}, words), h("select", { id: `batch-${this.n}-${key}`, onchange: (event) => set([key], event.target.value === usual ? null : event.target.value) },
      options.map(([value, text]) => h("option", { value, selected: this.batch[key] === value }, text))));
    const texts = (shown?.fields ?? []).filter((name) => name !== "n" && shown.headings.includes(name));
    return [h("div", { class: "row" },
      number("First number, for {n}", "first_number", { min: 0, step: 1, required: true }, this.batch.first_number, (value) => set(["first_number"], value)),
      number("Least size of letters in mm", "least_text_mm", { min: 0.1, step: "any", required: true }, this.batch.least_text_mm, (value) => set(["least_text_mm"], value)),
      choice("Modules of codes burn", "codes", CODES, "dark"),
      choice("QR codes may be spoiled by", "error_correction", CORRECTION, "M"),
      texts.map((name) => number(`Room for {${name}} in mm`, `room-${name}`, { min: 0.1, step: "any", placeholder: "any" }, this.batch.room_mm[name], (value) => set(["room_mm", name], value)))),
    h("p", { class: "small soft" }, "Text that is wider than its room is made smaller, down to the least size."), trouble,
    h("div", { class: "row no-print" }, action("Remove the table", () => this.takeOut()))];
  }

  async takeOut() {
    const { undo } = await this.changing((path, seen) => remove(path, { seen }));
    say("The table was removed from the item.");
    const back = action("Undo", async () => {
      await this.order.changing(() => post(`${this.order.path}/undo`, undo), { pageOf: (page) => page });
      fill(this.undo);
      say("The table is back.");
    });
    fill(this.undo, h("p", { class: "undo" }, "The table was removed from the item; its file is still there. ", back));
    back.querySelector("button").focus();
  }
}
