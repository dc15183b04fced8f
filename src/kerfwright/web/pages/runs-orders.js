/* Orders on record: whose, due when, where they stand. */

import { get, patch, put } from "./api.js";
import { dialog, duration, fill, h, problem } from "./ui.js";
import { table, unseen } from "./tables.js";

const STATES = ["quoted", "ordered", "planned", "running", "done", "delivered", "cancelled"];

const trouble = h("div", {});

export async function orders(changed) {
  const { orders: known } = await get("/orders-on-record");
  if (known.length === 0) return h("p", { class: "soft" }, "No order is on record yet.");
  return [trouble, table("Whose they are, when due, where they stand", [["Order"], ["Customer"], ["Due"], ["State"], ["Sheets run", true], ["Expected", true], ["Took", true], ["Earned an hour", true], [unseen("Do")]],
    known.map((one) => row(one, changed)))];
}

function row(one, changed) {
  const run = one.sheets.filter((sheet) => sheet.runs.length);
  const took = run.flatMap((sheet) => sheet.runs).reduce((sum, each) => sum + each.actual_s, 0);
  return h("tr", {},
    h("th", { scope: "row" }, one.slug ? h("a", { href: `/orders/${encodeURIComponent(one.slug)}#run` }, one.title) : one.title, one.reference ? h("div", { class: "soft small" }, one.reference) : null),
    h("td", {}, one.customer || "–"), h("td", { class: "whole" }, one.due ?? "–"),
    h("td", {}, h("button", { type: "button", class: "plain printed", "aria-label": `${named(one)} is ${one.state}. Change`, onclick: () => tell(one, stands, changed) }, one.state)),
    h("td", { class: "num" }, `${run.length}/${one.sheets.length}`), h("td", { class: "num" }, run.length ? duration(run.reduce((sum, sheet) => sum + sheet.expected_s, 0)) : "–"),
    h("td", { class: "num" }, took ? duration(took) : "–"), h("td", { class: "num" }, one.an_hour ? `${one.an_hour} ${one.currency}` : "–"),
    h("td", { class: "no-print" }, h("button", { type: "button", class: "plain", onclick: () => tell(one, whose, changed) }, "Customer, due", unseen(` of ${named(one)}`))));
}

const named = (one) => (one.reference ? `${one.title} (${one.reference})` : one.title);

async function tell(one, ask, changed) {
  fill(trouble);
  try {
    if (await ask(one)) changed();
  } catch (error) {
    fill(trouble, problem(error));
  }
}

async function stands(one) {
  const given = await dialog(`Where ${named(one)} stands`, [
    h("label", {}, h("span", {}, "State"), h("select", { name: "state" }, STATES.map((state) => h("option", { value: state, selected: state === one.state }, state)))),
    h("label", {}, h("span", {}, "Note"), h("input", { name: "note", maxlength: 500 }))]);
  return given && put(`/orders-on-record/${one.number}/state`, { state: given.get("state"), note: given.get("note") });
}

async function whose(one) {
  const given = await dialog(`Whose ${named(one)} is, and when it is due`, h("div", { class: "row" },
    h("label", {}, h("span", {}, "Customer, in your own words"), h("input", { name: "customer", value: one.customer, maxlength: 200 })),
    h("label", {}, h("span", {}, "Due"), h("input", { name: "due", type: "date", value: one.due ?? "" }))));
  return given && patch(`/orders-on-record/${one.number}`, { customer: given.get("customer"), due: given.get("due") || null });
}
