/* At the machine: program and ticket of each sheet, one part again, going on after a stop, what a run took. */

import { get, put } from "./api.js";
import { registration } from "./registration.js";
import { excerptForm } from "./run-excerpt.js";
import { recordForm } from "./run-record.js";
import { reservation } from "./run-reservation.js";
import { folded, numbersInWords } from "./sheet_load.js";
import { action, duration, fill, h } from "./ui.js";
import { whenChanged } from "./when-changed.js";

export const id = "run";
export const title = "Run";
export const help = "records";

export function create(order) {
  const element = h("div", {});
  const [age, stock, cards] = [h("div", {}), h("div", {}), h("div", {})];
  let asked = 0;
  /* Loads of a fixture whose programs are the same are one card: one program, run several times. */
  const showCards = async (sheets, loads) => {
    const turn = ++asked;
    let same = new Map();
    if (loads) {
      const answer = await get(`${order.path}/sheets`).catch(() => ({ sheets: [] }));
      same = new Map(answer.sheets.map((one) => [one.number, one.same_as]));
    }
    if (turn !== asked) return;
    fill(cards, folded(sheets.map((sheet) => ({ ...sheet, same_as: same.get(sheet.number) ?? null }))).map((alike) => sheetCard(order, alike)));
  };
  /* What is typed at the machine stays while others change the order. */
  const showPlan = whenChanged((read) => {
    if (read === null) {
      fill(element, h("p", { class: "soft" }, "Programs and ticket are written once the order is planned."));
      return;
    }
    fill(element, age,
      h("p", {}, "Stay with the machine while it burns. Extraction on, a way to put out a fire at hand; the machine's manual and local rules come first."),
      h("div", { class: "row" }, h("a", { class: "button", href: file(order, "ticket.html"), target: "_blank" }, "Ticket"),
        h("a", { class: "button", href: file(order, "ticket.pdf"), target: "_blank" }, "Ticket to print"),
        keepOnRecord(order)),
      stock, cards);
    showCards(read.sheets, read.loads);
  });
  const show = () => {
    const { plan, plan_document: made, order: wanted } = order.data;
    showPlan(made ? { sheets: made.sheets, loads: wanted.items.some((item) => item.fixture) } : null);
    fill(age, plan === "current" ? null : h("p", { class: "banner" }, "The order was changed since it was planned: these programs are those of the earlier plan."));
    fill(stock, made?.sheets.some((sheet) => sheet.label) ? reservation(order) : null);
  };
  return { element, show };
}

const file = (order, name) => `/api${order.path}/files/${encodeURIComponent(name)}`;

function keepOnRecord(order) {
  const words = h("p", { role: "status" });
  return [action("Put on the list of work", async () => {
    const { orders } = await put(`${order.path}/on-record`, {});
    fill(words, `On record as order ${orders[0].number}; its sheets wait for the machine on the page `, h("a", { href: "/runs" }, "Runs"), ".");
  }), words];
}

function sheetCard(order, alike) {
  const [sheet] = alike;
  const times = alike.length;
  const expected = sheet.expected ? sheet.expected.time_s : sheet.time_s;
  return h("article", { class: "card" },
    h("h3", {}, `${numbersInWords(alike.map((one) => one.number))}: ${sheet.material}, ${sheet.sheet}`, sheet.label ? ` (${sheet.label})` : ""),
    times > 1 ? h("p", {}, h("strong", {}, `Run this program ${times} times`), ", with new blanks in the fixture each time.") : null,
    h("p", {}, `${duration(expected)} expected${times > 1 ? ` each time, ${duration(times * expected)} in all` : ""}. `, sheet.program
      ? h("a", { href: file(order, sheet.program), download: sheet.program }, `Program ${sheet.program}`)
      : "Nothing is burned on it."),
    sheet.program ? [recordForm(order, alike), registration(order, sheet), excerptForm(order, sheet)] : null);
}
