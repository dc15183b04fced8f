/* Materials with their recipes, as the workshop's files say them, and what the records know of them. */

import { get } from "./api.js";
import { fill, h, page, problem } from "./ui.js";
import { history } from "./recipes-history.js";
import { starts } from "./recipes-start.js";
import { exchange } from "./recipes-exchange.js";
import { settings } from "./recipes-words.js";
import { table } from "./tables.js";
import "./help.js";

const PROCESSES = ["cut", "score", "engrave", "photo"];

const body = h("div", {});

function card(one, machines, known, again) {
  const missing = machines.filter((machine) => !machine.trouble).flatMap((machine) => PROCESSES
    .filter((process) => !one.recipes.some((recipe) => recipe.machine === machine.name && recipe.process === process))
    .map((process) => ({ machine, process })));
  const own = known.filter(({ which }) => which.material === one.name && which.thickness_mm === one.thickness_mm);
  return h("article", { class: "card" }, h("h2", {}, one.name),
    h("p", { class: "soft" }, [one.file, one.thickness_mm ? `${one.thickness_mm} mm` : "", one.invented ? "invented settings" : ""].filter(Boolean).join(" · ")),
    one.trouble ? problem({ thing: one.trouble }) : null,
    one.recipes.length ? table(`Recipes for ${one.name}`, [["Machine"], ["Process"], ["Settings"], ["State"], ["Tested"]], one.recipes.map(row)) : h("p", {}, "No recipe yet: make a trial piece on the page Calibration."),
    own.map((recipe) => history(recipe, again)),
    missing.length && !one.trouble ? starts(one, missing, again) : null);
}

const row = (recipe) => h("tr", {}, h("th", { scope: "row" }, recipe.machine), h("td", {}, recipe.process), h("td", { class: "settings" }, settings(recipe.settings)),
  h("td", {}, recipe.status), h("td", {}, [recipe.tested_on, recipe.tested_by].filter(Boolean).join(", ") || "–"));

function withoutFile(known, again) {
  const lost = known.filter((one) => one.file === null);
  return lost.length ? h("section", { "aria-label": "On record, without a file" }, h("h2", {}, "On record, without a file"),
    h("p", {}, "Recipes of materials that no file of the workshop is for. Write a material file with that name and thickness, and they can be brought back into it."),
    lost.map((one) => history(one, again, { named: true }))) : null;
}

async function show() {
  try {
    const [workshop, known] = await Promise.all([get("/workshop"), get("/recipes")]);
    fill(body,
      workshop.materials.length ? workshop.materials.map((one) => card(one, workshop.machines, known, show)) : h("p", {}, "The workshop has no material file yet."),
      withoutFile(known, show));
  } catch (error) {
    fill(body, problem(error));
  }
}

page("Recipes", h("div", { "data-help": "recipes" },
  h("p", {}, "Plans are made from the material files and from nothing else. Beside them stands every version that was ever planned with, tried or run."),
  body, exchange(show)));
await show();
