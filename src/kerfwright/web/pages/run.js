/* At the machine: program and ticket of each sheet, one part again, going on after a stop, what a run took. */

import { get, post, put } from "./api.js";
import { registration } from "./registration.js";
import { folded, numbersInWords } from "./sheet_load.js";
import { action, duration, fill, h, problem, say } from "./ui.js";

export const id = "run";
export const title = "Run";
export const help = "records";

export function create(order) {
  const element = h("div", {});
  const cards = h("div", {});
  let asked = 0;
  /* Loads of a fixture whose programs are the same are one card: one program, run several times. */
  const showCards = async (plan) => {
    const turn = ++asked;
    let same = new Map();
    if (order.data.order.items.some((item) => item.fixture)) {
      const { sheets } = await get(`${order.path}/sheets`).catch(() => ({ sheets: [] }));
      same = new Map(sheets.map((one) => [one.number, one.same_as]));
    }
    if (turn !== asked) return;
    fill(cards, folded(plan.sheets.map((sheet) => ({ ...sheet, same_as: same.get(sheet.number) ?? null }))).map((alike) => sheetCard(order, alike)));
  };
  const show = () => {
    const plan = order.data.plan_document;
    if (!plan) {
      fill(element, h("p", { class: "soft" }, "Programs and ticket are written once the order is planned."));
      return;
    }
    fill(element,
      order.data.plan === "current" ? null : h("p", { class: "banner" }, "The order was changed since it was planned: these programs are those of the earlier plan."),
      h("p", {}, "Stay with the machine while it burns. Extraction on, a way to put out a fire at hand; the machine's manual and local rules come first."),
      h("div", { class: "row" }, h("a", { class: "button", href: file(order, "ticket.html"), target: "_blank" }, "Ticket"),
        h("a", { class: "button", href: file(order, "ticket.pdf"), target: "_blank" }, "Ticket to print"),
        keepOnRecord(order)),
      cards);
    showCards(plan);
  };
  return { element, show };
}

const file = (order, name) => `/api${order.path}/files/${encodeURIComponent(name)}`;

function keepOnRecord(order) {
  const words = h("p", { role: "status" });
  return [action("Put on the list of work", async () => {
    const { orders } = await put(`${order.path}/on-record`, {});
    words.textContent = `On record as order ${orders[0].number}; its sheets wait for the machine on the page Runs.`;
  }), words];
}

function sheetCard(order, alike) {
  const [sheet] = alike;
  const times = alike.length;
  const expected = sheet.expected ? sheet.expected.time_s : sheet.time_s;
  return h("article", { class: "card" },
    h("h3", {}, `${numbersInWords(alike.map((one) => one.number))}: ${sheet.material}, ${sheet.sheet}`),
    times > 1 ? h("p", {}, h("strong", {}, `Run this program ${times} times`), ", with new blanks in the fixture each time.") : null,
    h("p", {}, `${duration(expected)} expected${times > 1 ? ` each time, ${duration(times * expected)} in all` : ""}. `, sheet.program
      ? h("a", { href: file(order, sheet.program), download: sheet.program }, `Program ${sheet.program}`)
      : "Nothing is burned on it."),
    sheet.program ? [recordForm(order, alike), registration(order, sheet), excerptForm(order, sheet)] : null);
}

function recordForm(order, alike) {
  const [sheet] = alike;
  const done = h("div", { role: "status" });
  const form = h("form", { class: "row", onsubmit: async (event) => {
    event.preventDefault();
    const given = new FormData(form);
    const run = { sheet: Number(given.get("sheet") ?? sheet.number), minutes: given.get("minutes"), note: given.get("note"), again: given.has("again"), sure: given.has("sure") };
    if (given.get("ran_on")) run.ran_on = given.get("ran_on");
    if (given.get("scrapped")) run.scrapped_parts = Number(given.get("scrapped"));
    if (given.get("laid_in")) run.laid_in = given.get("laid_in");
    try {
      const { words } = await post(`${order.path}/runs`, run);
      fill(done, words.map((one) => h("p", {}, one)));
      say(words.join(" "));
      form.reset();
      const next = alike.findIndex((one) => one.number === run.sheet) + 1;
      if (next < alike.length) form.elements.sheet.value = alike[next].number;
    } catch (error) {
      fill(done, problem(error));
    }
  } },
    alike.length > 1 ? h("label", {}, h("span", {}, "Which run"), h("select", { name: "sheet" }, alike.map((one, n) => h("option", { value: one.number }, `${n + 1} of ${alike.length}, sheet ${one.number}`)))) : null,
    field("It took", { name: "minutes", placeholder: "31:40", required: true, size: 8, "aria-describedby": `took-${sheet.number}` }),
    field("Day", { name: "ran_on", type: "date" }),
    field("Parts no good", { name: "scrapped", type: "number", min: 0, inputmode: "numeric" }),
    field("Piece laid in, if not the planned one", { name: "laid_in", size: 8 }),
    field("Note", { name: "note" }),
    h("label", { class: "beside" }, h("input", { type: "checkbox", name: "again" }), h("span", {}, "Run another time")),
    h("label", { class: "beside" }, h("input", { type: "checkbox", name: "sure" }), h("span", {}, "Sure, although it looks unlikely")),
    h("button", {}, "Record the run"),
    h("p", { class: "small soft", id: `took-${sheet.number}` }, "Minutes and seconds, such as 31:40, or 1:02:30."));
  return h("details", {}, h("summary", {}, "Record what it took"), form, done);
}

function excerptForm(order, sheet) {
  const path = `${order.path}/sheets/${sheet.number}`;
  const chosen = h("select", { name: "part" });
  const line = h("input", { type: "number", min: 1, inputmode: "numeric" });
  const made = h("div", { role: "status" });
  const take = async (wanted) => {
    const excerpt = await post(`${path}/excerpt`, wanted);
    const address = URL.createObjectURL(new Blob([excerpt.text], { type: "text/plain" }));
    fill(made, h("p", {}, excerpt.words), h("p", {}, h("a", { class: "button", href: address, download: excerpt.name }, `Save ${excerpt.name}`)));
    say(excerpt.words);
  };
  const box = h("details", { ontoggle: async () => {
    if (!box.open || chosen.length) return;
    try {
      const { parts } = await get(`${path}/parts`);
      chosen.append(...parts.map((name) => h("option", { value: name }, name)));
    } catch (error) {
      fill(made, problem(error));
    }
  } },
    h("summary", {}, "One part again, or go on after a stop"),
    h("div", { class: "row" }, h("label", {}, h("span", {}, "Part"), chosen),
      action("Make only this part again", () => take({ part: chosen.value })),
      action("Go on after this part", () => take({ after_part: chosen.value }))),
    h("div", { class: "row" }, h("label", {}, h("span", {}, "Line of the program"), line),
      action("Go on from this line", () => take({ from_line: Number(line.value) || 1 }))),
    h("p", { class: "small soft" }, "Going on is safe only if neither sheet nor zero has moved. A part made again burns where it lay: lay material there that has not been cut."),
    made);
  return box;
}

const field = (name, attributes) => h("label", {}, h("span", {}, name), h("input", attributes));
