/* Where a recipe that is missing may begin: from tested ones at neighbouring thicknesses, untested. */

import { get, post } from "./api.js";
import { action, dialog, fill, findings, h, problem, say } from "./ui.js";
import { setting, settings } from "./recipes-words.js";
import { table } from "./tables.js";

/* missing = [{machine, process}] that the material has no recipe for; again() shows the page anew. */
export function starts(material, missing, again) {
  const chosen = h("select", {}, missing.map((one, n) => h("option", { value: n }, `${one.process} on ${one.machine.name}`)));
  const told = h("div", { "aria-live": "polite" });
  return h("details", { class: "start" }, h("summary", {}, `No recipe for ${inWords(missing)}: where to begin`),
    h("p", { class: "small soft" }, "From your own tested recipes of the same kind at other thicknesses. What comes out is where a trial piece begins, never a setting to work with."),
    h("div", { class: "row" }, h("label", {}, h("span", {}, "For which"), chosen),
      action("Look for a start", async () => {
        fill(told);
        const { machine, process } = missing[Number(chosen.value)];
        const wanted = { machine: machine.file, material: material.file, process };
        try {
          const found = await get(`/recipes/suggestion?${new URLSearchParams(wanted)}`);
          fill(told, start(found, () => write(found, wanted, again)));
        } catch (error) {
          fill(told, problem(error));
        }
      })), told);
}

/* "score, photo", or with several machines "photo on one; cut, score on another". */
function inWords(missing) {
  const machines = [...new Set(missing.map(({ machine }) => machine.name))];
  const of = (name) => missing.filter(({ machine }) => machine.name === name).map(({ process }) => process).join(", ");
  return machines.length === 1 ? of(machines[0]) : machines.map((name) => `${of(name)} on ${name}`).join("; ");
}

const CAUTION = "Untried settings catch fire sooner than others: stay with it, extraction on, a way to put out a fire at hand. The machine's manual and local rules come first.";

/* Asks first; what was never burned is written as untested, and for nothing but a trial. */
async function write(found, wanted, again) {
  const sure = await dialog(`Write it into ${wanted.material}`, [
    h("p", {}, `${settings(found.settings)}. Energy ${found.energy}.`),
    h("p", {}, "It is written as untested; comments stay, and what the file holds now remains on record. Orders can then be planned with it, so burn the trial piece before one depends on it."),
    found.findings.length ? findings(found.findings) : null,
    h("p", {}, CAUTION)], { yes: "Write it as untested" });
  if (!sure) return;
  const { words } = await post("/recipes/suggestion", { ...wanted, settings: found.settings });
  await again();
  say(words);
}

function start(found, take) {
  return [
    h("p", {}, h("span", { class: "word" }, "Untested"), ` ${settings(found.settings)}`),
    h("p", {}, `Energy ${found.energy}; by ${found.way}.`),
    table("What it rests on", [["Material"], ["Thickness", true], ["Speed", true], ["Power", true], ["Passes", true], ["State"]],
      found.used.map((one) => h("tr", {}, h("th", { scope: "row" }, one.material), h("td", { class: "num" }, `${one.thickness_mm} mm`), h("td", { class: "num" }, `${one.speed_mm_s} mm/s`),
        h("td", { class: "num" }, setting("power", one.power)[1]), h("td", { class: "num" }, String(one.passes)), h("td", {}, one.status)))),
    found.remarks.map((one) => h("p", { class: "small" }, one)),
    found.findings.length ? findings(found.findings) : null,
    h("p", { class: "small" }, CAUTION),
    h("div", { class: "row" }, h("a", { class: "button", href: `/calibration?${new URLSearchParams(found.trial)}` }, "Begin the trial piece"),
      action("Write it as untested …", take))];
}
