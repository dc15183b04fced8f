/* What waits for the machines, what orders came to, and every recorded run. */

import { get, put, remove } from "./api.js";
import { dialog, duration, fill, h, page, problem } from "./ui.js";
import "./help.js";

const STATES = ["quoted", "ordered", "planned", "running", "done", "delivered", "cancelled"];

const boxes = { waiting: h("div", {}), orders: h("div", {}), runs: h("div", {}) };

const table = (caption, heads, rows) => h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": caption }, h("table", {},
  h("caption", { class: "unseen" }, caption),
  h("thead", {}, h("tr", {}, heads.map(([name, numeric]) => h("th", { scope: "col", class: numeric ? "num" : null }, name)))), h("tbody", {}, rows)));

async function into(box, load) {
  try {
    fill(box, await load());
  } catch (error) {
    fill(box, problem(error));
  }
}

async function waiting() {
  const sheets = await get("/waiting");
  if (sheets.length === 0) return h("p", { class: "soft" }, "No sheet waits. Planned orders come here by “Put on the list of work” in their section Run.");
  const machines = [...new Set(sheets.map((sheet) => sheet.machine))];
  return machines.map((machine) => {
    const own = sheets.filter((sheet) => sheet.machine === machine);
    const total = own.reduce((sum, sheet) => sum + sheet.expected_s, 0);
    return [h("h3", {}, `${machine}: ${duration(total)}`), table(`Sheets for ${machine}`, [["Order"], ["Sheet"], ["Material"], ["Due"], ["Expected", true]],
      own.map((sheet) => h("tr", {}, h("th", { scope: "row" }, sheet.order), h("td", {}, String(sheet.sheet)), h("td", {}, sheet.material), h("td", {}, sheet.due ?? "–"), h("td", { class: "num" }, duration(sheet.expected_s)))))];
  });
}

async function orders() {
  const { orders: known } = await get("/orders-on-record");
  if (known.length === 0) return h("p", { class: "soft" }, "No order is on record yet.");
  return table("Orders on record", [["Order"], ["Customer"], ["Due"], ["State"], ["Sheets run", true], ["Expected", true], ["Took", true], ["Earned an hour", true]],
    known.map((one) => {
      const run = one.sheets.filter((sheet) => sheet.runs.length);
      const took = run.flatMap((sheet) => sheet.runs).reduce((sum, each) => sum + each.actual_s, 0);
      return h("tr", {}, h("th", { scope: "row" }, one.title), h("td", {}, one.customer), h("td", {}, one.due ?? "–"),
        h("td", {}, h("button", { type: "button", class: "plain", "aria-label": `${one.title} is ${one.state}. Change`, onclick: () => stands(one) }, one.state)),
        h("td", { class: "num" }, `${run.length}/${one.sheets.length}`), h("td", { class: "num" }, duration(run.reduce((sum, sheet) => sum + sheet.expected_s, 0))),
        h("td", { class: "num" }, took ? duration(took) : "–"), h("td", { class: "num" }, one.an_hour ? `${one.an_hour} ${one.currency}` : "–"));
    }));
}

async function stands(one) {
  const given = await dialog(`Where ${one.title} stands`, [
    h("label", {}, h("span", {}, "State"), h("select", { name: "state" }, STATES.map((state) => h("option", { value: state, selected: state === one.state }, state)))),
    h("label", {}, h("span", {}, "Note"), h("input", { name: "note" }))]);
  if (!given) return;
  try {
    await put(`/orders-on-record/${one.number}/state`, { state: given.get("state"), note: given.get("note") });
    into(boxes.orders, orders);
    into(boxes.waiting, waiting);
  } catch (error) {
    boxes.orders.prepend(problem(error));
  }
}

async function runs() {
  const { runs: known } = await get("/runs");
  if (known.length === 0) return h("p", { class: "soft" }, "No run is on record yet. After a run, its time is recorded in the order's section Run.");
  return table("Recorded runs", [["Run"], ["Day"], ["Machine"], ["Order"], ["Computed", true], ["Took", true], ["Took of computed", true], ["Parts no good", true], ["Note"], [h("span", { class: "unseen" }, "Do")]],
    known.map((run) => h("tr", {}, h("th", { scope: "row" }, String(run.number)), h("td", {}, run.ran_on), h("td", {}, run.machine), h("td", {}, `${run.order}, sheet ${run.sheet}`),
      h("td", { class: "num" }, duration(run.computed_s)), h("td", { class: "num" }, duration(run.actual_s)), h("td", { class: "num" }, `${Math.round(100 * run.ratio)} %`), h("td", { class: "num" }, run.scrapped_parts ?? "–"), h("td", {}, run.note),
      h("td", { class: "no-print" }, h("button", { type: "button", class: "plain", onclick: () => forget(run) }, "Take out", h("span", { class: "unseen" }, ` run ${run.number}`))))));
}

async function forget(run) {
  const sure = await dialog(`Take run ${run.number} out`, h("p", {}, "It stays on record, but nothing learns from it any more."), { yes: "Take out" });
  if (!sure) return;
  try {
    await remove(`/runs/${run.number}`);
    into(boxes.runs, runs);
  } catch (error) {
    boxes.runs.prepend(problem(error));
  }
}

page("Runs",
  h("section", { "data-help": "orders" }, h("h2", {}, "Waiting for the machine"), boxes.waiting),
  h("section", { "data-help": "orders" }, h("h2", {}, "Orders on record"), boxes.orders),
  h("section", { "data-help": "records" }, h("h2", {}, "Recorded runs"), boxes.runs));
into(boxes.waiting, waiting);
into(boxes.orders, orders);
into(boxes.runs, runs);
