/* Sheets and offcuts: what is there, what comes in, what goes out, where it lies. */

import { get, post, put } from "./api.js";
import { action, dialog, fill, h, page, problem, say } from "./ui.js";
import { printLabels } from "./stock-labels.js";
import { lotPicture, number } from "./stock-picture.js";
import "./help.js";

const list = h("div", {});
const picked = new Set();

/* Amounts are in the currency of the workshop's rates, where it has them. */
const known = get("/workshop").catch(() => ({ currency: "" }));
const filters = { material: "", at_least: "", gone: false };

const field = (name, attributes) => h("label", {}, h("span", {}, name), h("input", attributes));

async function show() {
  const query = new URLSearchParams();
  for (const [key, value] of Object.entries(filters)) if (value) query.set(key, value);
  try {
    const [stock, { currency }] = await Promise.all([get(`/stock?${query}`), known]);
    labels.hidden = stock.lots.length === 0;
    fill(list, stock.lots.length === 0 ? h("p", { class: "soft" }, query.size ? "Nothing of the kind is in stock." : "Nothing is in stock yet. What comes in is put on record below; orders may then be planned on it.") : table(stock, currency));
  } catch (error) {
    fill(list, problem(error));
  }
}

function table(stock, currency) {
  const amount = (text) => `${text} ${currency}`.trim();
  return h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Stock" }, h("table", {},
    h("caption", { class: "unseen" }, "Sheets and offcuts in stock"),
    h("thead", {}, h("tr", {}, h("th", { class: "pick no-print", scope: "col" }, h("span", { class: "unseen" }, "To print")), ["Label", "Shape", "Material", "Size in mm"].map((name) => h("th", { scope: "col" }, name)),
      ["There", "Free", "Worth each"].map((name) => h("th", { class: "num", scope: "col" }, name)), ["Place", "Reserved for"].map((name) => h("th", { scope: "col" }, name)), h("th", { class: "no-print", scope: "col" }, h("span", { class: "unseen" }, "Do")))),
    h("tbody", {}, stock.lots.map((lot) => row(lot, amount))),
    h("tfoot", {}, h("tr", {}, h("td", { class: "no-print" }), h("th", { colspan: 6, scope: "row" }, "Worth in all"), h("td", { class: "num" }, amount(stock.worth)), h("td", { colspan: 2 }), h("td", { class: "no-print" })))));
}

function row(lot, amount) {
  return h("tr", {},
    h("td", { class: "pick no-print" }, h("input", { type: "checkbox", "aria-label": `Label of ${lot.label}`, checked: picked.has(lot.label), onchange: (event) => { picked[event.target.checked ? "add" : "delete"](lot.label); } })),
    h("th", { class: "whole", scope: "row" }, lot.label),
    h("td", {}, lotPicture(lot)),
    h("td", {}, lot.material, lot.kind === "offcut" ? h("span", { class: "soft" }, " offcut") : null),
    h("td", {}, `${number(lot.width_mm)} × ${number(lot.height_mm)}`),
    h("td", { class: "num" }, String(lot.on_hand)),
    h("td", { class: "num" }, String(lot.free)),
    h("td", { class: "num" }, lot.worth === null ? "–" : amount(lot.worth)),
    h("td", {}, h("button", { type: "button", class: "plain printed", onclick: () => move(lot), "aria-label": `${lot.label} lies: ${lot.location || "not said"}. Change` }, lot.location || "not said")),
    h("td", {}, Object.entries(lot.reserved).map(([order, count]) => h("div", {}, `${count} × ${order}`))),
    h("td", { class: "no-print" }, h("button", { type: "button", class: "plain", onclick: () => change(lot) }, "Change", h("span", { class: "unseen" }, ` ${lot.label}`))));
}

async function told(work) {
  try {
    await work();
    await show();
  } catch (error) {
    list.prepend(problem(error));
  }
}

async function move(lot) {
  const given = await dialog(`Where ${lot.label} lies`, field("Place", { name: "location", value: lot.location }));
  if (given) await told(() => put(`/stock/${encodeURIComponent(lot.label)}/place`, { location: given.get("location") }));
}

const WAYS = { use: "Use: taken out for work without a plan", scrap: "Scrap: good for nothing any more", return: "Return: taken out, not cut", more: "More that are alike came in", release: "Release what is reserved" };

async function change(lot) {
  const ledger = h("div", {}, "Loading …");
  get(`/stock/${encodeURIComponent(lot.label)}/movements`).then((lines) => fill(ledger, h("ul", { class: "small" }, lines.map((line) =>
    h("li", {}, `${line.moved_at.slice(0, 10)} ${line.what} ${line.on_hand || line.held}${line.order ? ` for ${line.order}` : ""} (${line.moved_by})${line.note ? `: ${line.note}` : ""}`)))), (error) => fill(ledger, problem(error)));
  const given = await dialog(`${lot.label}, ${lot.material}`, [
    h("label", {}, h("span", {}, "What happens"), h("select", { name: "what" }, Object.entries(WAYS).map(([value, words]) => h("option", { value }, words)))),
    field("How many", { name: "count", type: "number", min: 1, value: 1, required: true }),
    field("Note", { name: "note" }),
    h("details", {}, h("summary", {}, "What was done with it"), ledger)]);
  if (given) await told(() => post(`/stock/${encodeURIComponent(lot.label)}/movements`, { what: given.get("what"), count: Number(given.get("count")), note: given.get("note") }));
}

function arrivals() {
  const trouble = h("div", {});
  const form = h("form", { onsubmit: async (event) => {
    event.preventDefault();
    const given = Object.fromEntries(new FormData(form));
    try {
      const lots = await post("/stock", { ...given, count: Number(given.count) || 1 });
      say(`Put into stock: ${lots.map((lot) => lot.label).join(", ")}`);
      form.reset();
      fill(trouble, h("p", {}, `Put into stock: ${lots.map((lot) => lot.label).join(", ")}`));
      await show();
    } catch (error) {
      fill(trouble, problem(error));
    }
  } },
    h("div", { class: "row" },
      field("Material, as its file names it", { name: "material", required: true, size: 28 }),
      field("Size in mm", { name: "size", required: true, placeholder: "600x400", size: 10 }),
      field("How many", { name: "count", type: "number", min: 1, value: 1 }),
      h("label", {}, h("span", {}, "What"), h("select", { name: "kind" }, h("option", { value: "sheet" }, "sheets"), h("option", { value: "offcut" }, "an offcut"))),
      field("Place", { name: "location", size: 12 }),
      field("A square metre costs new", { name: "price_per_m2", inputmode: "decimal", size: 8 }),
      field("One of these is worth", { name: "cost", inputmode: "decimal", size: 8 }),
      field("Corners of an odd piece", { name: "outline", placeholder: "0,0 120,0 60,100", size: 24 }),
      field("Note", { name: "note" })),
    h("button", {}, "Put into stock"));
  return h("details", {}, h("summary", {}, "Put sheets or an offcut into stock"), form, trouble, table_in());
}

function table_in() {
  const chosen = h("input", { type: "file", accept: ".csv,text/csv" });
  return h("div", { class: "row" }, h("label", {}, h("span", {}, "A CSV table, as it is saved here"), chosen),
    action("Put every row into stock", async () => {
      const [table] = chosen.files;
      if (!table) throw new Error("Choose a table first.");
      const lots = await post("/stock/table", { text: await table.text() });
      say(`${lots.length} put into stock`);
      await show();
    }));
}

const small = h("input", { type: "checkbox" });
const labels = h("div", { class: "row no-print", hidden: true },
  h("label", { class: "beside" }, small, h("span", {}, "A page of 90 × 50 mm for each, no A4 sheets")),
  action("Labels for the ticked pieces", () => printLabels([...picked], { small: small.checked })));

function records() {
  const place = h("span", {}, "…");
  get("/records").then((told) => { place.textContent = told.place; }, (error) => place.replaceWith(problem(error)));
  return h("section", { class: "no-print", "data-help": "records", "aria-label": "Everything on record" }, h("h2", {}, "Everything on record"),
    h("p", {}, "Runs, stock, orders and recipes lie in ", h("code", {}, place), ". Keep a copy of them on another disk."),
    h("p", {}, h("a", { class: "button", href: "/api/records/backup.json" }, "Save a backup (JSON)")),
    h("p", { class: "small" }, "To read it back, give it a new place, since records are never mixed: ", h("code", {}, "kerfwright restore FILE.json --records NEW.sqlite"), ". Then begin with them: ", h("code", {}, "kerfwright serve FOLDER --records NEW.sqlite"), "."));
}

const search = (name, attributes, key) => field(name, { ...attributes, oninput: (event) => { filters[key] = event.target.value; clearTimeout(search.wait); search.wait = setTimeout(show, 250); } });

page("Stock",
  h("div", { "data-help": "stock" },
    h("div", { class: "row no-print" },
      search("Material", { type: "search" }, "material"),
      search("A free piece of at least, in mm", { placeholder: "200x150", size: 10 }, "at_least"),
      h("label", { class: "beside" }, h("input", { type: "checkbox", onchange: (event) => { filters.gone = event.target.checked; show(); } }), h("span", {}, "Also what is used up")),
      h("a", { class: "button", href: "/api/stock/table.csv" }, "Save as CSV")),
    list,
    labels, arrivals(), records()));
show();
