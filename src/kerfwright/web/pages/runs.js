/* When waiting sheets are run, what orders came to, and every recorded run. */

import { get, remove } from "./api.js";
import { dialog, duration, fill, h, page, problem } from "./ui.js";
import { orders } from "./runs-orders.js";
import { report } from "./runs-report.js";
import { schedule } from "./runs-schedule.js";
import { table, unseen } from "./tables.js";
import "./help.js";

const boxes = { schedule: h("div", {}), orders: h("div", {}), report: h("div", {}), runs: h("div", {}) };

async function into(box, load) {
  try {
    fill(box, await load());
  } catch (error) {
    fill(box, problem(error));
  }
}

const show = {
  schedule: () => into(boxes.schedule, () => schedule(show.schedule)),
  orders: () => into(boxes.orders, () => orders(() => { show.orders(); show.schedule(); show.report(); })),
  report: () => into(boxes.report, () => report(show.report)),
  runs: () => into(boxes.runs, runs),
};

async function runs() {
  const { runs: known } = await get("/runs");
  if (known.length === 0) return h("p", { class: "soft" }, "No run is on record yet. After a run, its time is recorded in the order's section Run.");
  return table("Runs, oldest first", [["Run"], ["Day"], ["Machine"], ["Order"], ["Computed", true], ["Took", true], ["Took of computed", true], ["Parts no good", true], ["Note"], [unseen("Do")]],
    known.map((run) => h("tr", {}, h("th", { scope: "row" }, String(run.number)), h("td", { class: "whole" }, run.ran_on), h("td", {}, run.machine), h("td", {}, `${run.order}, sheet ${run.sheet}`),
      h("td", { class: "num" }, duration(run.computed_s)), h("td", { class: "num" }, duration(run.actual_s)), h("td", { class: "num" }, `${Math.round(100 * run.ratio)} %`), h("td", { class: "num" }, run.scrapped_parts ?? "–"), h("td", {}, run.note),
      h("td", { class: "no-print" }, h("button", { type: "button", class: "plain", onclick: () => forget(run) }, "Take out", unseen(` run ${run.number}`))))));
}

async function forget(run) {
  const sure = await dialog(`Take run ${run.number} out`, h("p", {}, "It stays on record, but nothing learns from it any more."), { yes: "Take out" });
  if (!sure) return;
  try {
    await remove(`/runs/${run.number}`);
    for (const again of Object.values(show)) again();
  } catch (error) {
    boxes.runs.prepend(problem(error));
  }
}

const section = (title, help, box) => h("section", { "data-help": help, "aria-label": title }, h("h2", {}, title), box);

page("Runs",
  section("Waiting for the machine", "orders", boxes.schedule),
  section("Orders on record", "orders", boxes.orders),
  section("What orders came to", "orders", boxes.report),
  section("Recorded runs", "records", boxes.runs));
for (const load of Object.values(show)) load();
