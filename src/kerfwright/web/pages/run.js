/* At the machine: program and ticket of each sheet, one part again, going on after a stop, what a run took. */

import { put } from "./api.js";
import { action, duration, fill, h } from "./ui.js";
import { excerptForm } from "./run-excerpt.js";
import { recordForm } from "./run-record.js";
import { reservation } from "./run-reservation.js";

export const id = "run";
export const title = "Run";
export const help = "records";

export function create(order) {
  const element = h("div", {});
  const show = () => {
    const plan = order.data.plan_document;
    if (!plan) {
      fill(element, h("p", { class: "soft" }, "Programs and ticket are written once the order is planned."));
      return;
    }
    fill(element,
      order.data.plan === "current" ? null : h("p", { class: "banner" }, "The order was changed since it was planned: these programs are those of the earlier plan."),
      h("p", {}, "Stay with the machine while it burns. Extraction on, a way to put out a fire at hand; the machine's manual and local rules come first."),
      h("p", {}, h("a", { class: "button", href: file(order, "ticket.html"), target: "_blank" }, "Ticket"), " ",
        h("a", { class: "button", href: file(order, "ticket.pdf"), target: "_blank" }, "Ticket to print"), " ",
        keepOnRecord(order)),
      plan.sheets.some((sheet) => sheet.label) ? reservation(order) : null,
      plan.sheets.map((sheet) => sheetCard(order, sheet)));
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

function sheetCard(order, sheet) {
  const expected = sheet.expected ? sheet.expected.time_s : sheet.time_s;
  return h("article", { class: "card" },
    h("h3", {}, `Sheet ${sheet.number}: ${sheet.material}, ${sheet.sheet}`, sheet.label ? ` (${sheet.label})` : ""),
    h("p", {}, `${duration(expected)} expected. `, sheet.program
      ? h("a", { href: file(order, sheet.program), download: sheet.program }, `Program ${sheet.program}`)
      : "Nothing is burned on it."),
    sheet.program ? [recordForm(order, sheet), excerptForm(order, sheet)] : null);
}
