/* Materials with their recipes, as the workshop's files say them. */

import { get } from "./api.js";
import { h, page, problem } from "./ui.js";
import "./help.js";

const words = (settings) => Object.entries(settings).map(([key, value]) => `${key.replaceAll("_", " ")} ${JSON.stringify(value).replaceAll('"', "")}`).join(" · ");

function material(one) {
  return h("article", { class: "card" }, h("h2", {}, one.name), h("p", { class: "soft" }, [one.file, one.thickness_mm ? `${one.thickness_mm} mm` : "", one.invented ? "invented settings" : ""].filter(Boolean).join(" · ")),
    one.trouble ? problem({ thing: one.trouble }) : null,
    one.recipes.length ? h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": `Recipes for ${one.name}` }, h("table", {}, h("caption", { class: "unseen" }, `Recipes for ${one.name}`),
      h("thead", {}, h("tr", {}, ["Machine", "Process", "Settings", "State", "Tested"].map((name) => h("th", { scope: "col" }, name)))),
      h("tbody", {}, one.recipes.map((recipe) => h("tr", {}, h("th", { scope: "row" }, recipe.machine), h("td", {}, recipe.process), h("td", {}, words(recipe.settings)), h("td", {}, recipe.status), h("td", {}, [recipe.tested_on, recipe.tested_by].filter(Boolean).join(", ") || "–")))))) : h("p", {}, "No recipe yet: make a trial piece on the page Calibration."));
}

try {
  const workshop = await get("/workshop");
  page("Recipes", h("div", { "data-help": "material" }, workshop.materials.length ? workshop.materials.map(material) : h("p", {}, "The workshop has no material file yet.")));
} catch (error) {
  page("Recipes", problem(error));
}
