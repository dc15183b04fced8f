/* Waiting sheets laid into the shop's hours, day by day; what will be late is told in words. */

import { get } from "./api.js";
import { h } from "./ui.js";
import { table } from "./tables.js";

const chosen = { begin: "" };

export async function schedule(again) {
  const told = await get(`/schedule${chosen.begin ? `?begin=${chosen.begin}` : ""}`);
  if (told.slots.length === 0) return h("p", { class: "soft" }, "No sheet waits. Planned orders come here by “Put on the list of work” in their section Run.");
  const machines = [...new Set(told.slots.map((slot) => slot.machine))];
  return [
    h("div", { class: "row no-print" }, h("label", {}, h("span", {}, "From this day on"), h("input", { id: "schedule-begin", type: "date", value: chosen.begin, onchange: (event) => { chosen.begin = event.target.value; again(); } }))),
    told.warnings.map((words) => h("p", {}, h("span", { class: "word late" }, words.includes("late") ? "Late" : "No time"), ` ${words}`)),
    machines.map((machine) => [h("h3", {}, machine), days(machine, told.slots.filter((slot) => slot.machine === machine))]),
    h("p", { class: "small soft" }, told.hours, " What is due first goes first, and no sheet burns through a break or overnight."),
  ];
}

/* A table with a heading row for each day. */
function days(machine, slots) {
  let day = "";
  const rows = slots.flatMap((slot) => {
    const own = slot.begin ? slot.begin.slice(0, 10) : "no time";
    const head = own === day ? [] : [h("tr", { class: "day-head" }, h("th", { colspan: 5, scope: "rowgroup" }, slot.begin ? named(own) : "No stretch of work is long enough"))];
    day = own;
    return [...head, h("tr", {}, h("td", {}, slot.begin ? clock(slot.begin) : "–"), h("td", {}, slot.end ? clock(slot.end) : "–"),
      h("th", { scope: "row" }, slot.order), h("td", {}, String(slot.sheet)), h("td", { class: "whole" }, slot.due ?? "–", slot.late_days ? [" ", h("span", { class: "late" }, `late by ${slot.late_days === 1 ? "1 day" : `${slot.late_days} days`}`)] : null))];
  });
  return table(`Sheets for ${machine}`, [["From"], ["To"], ["Order"], ["Sheet"], ["Due"]], rows);
}

/* Times are by the shop's clock and carry no zone. */
const clock = (moment) => moment.slice(11, 16);
const named = (day) => `${new Date(`${day}T12:00:00`).toLocaleDateString("en-GB", { weekday: "long" })}, ${day}`;
