/* Recipes taken out as a table or with all their versions, and taken in. */

import { post } from "./api.js";
import { action, fill, h, problem, say } from "./ui.js";

export function exchange(again) {
  const chosen = h("input", { type: "file", accept: ".csv,.json,text/csv,application/json" });
  const told = h("div", { role: "status" });
  return h("section", { class: "no-print", "aria-label": "Out and in" }, h("h2", {}, "Out and in"),
    h("p", {}, h("a", { class: "button", href: "/api/recipes/export/recipes.csv" }, "Recipes as a table (CSV)"), " ",
      h("a", { class: "button", href: "/api/recipes/export/shop.json" }, "All versions (JSON)")),
    h("p", {}, "Taking in notes what a file holds, all of it or nothing. Material files stay as they are until a version is brought back into one."),
    h("div", { class: "row" }, h("label", {}, h("span", {}, "A CSV or JSON file, as it is saved here"), chosen),
      action("Take it in", async () => {
        const [file] = chosen.files;
        if (!file) throw new Error("Choose a file first.");
        fill(told);
        try {
          const { words } = await post("/recipes/import", { name: file.name, text: await file.text() });
          await again();
          fill(told, h("p", {}, words));
          say(words);
        } catch (error) {
          fill(told, rowByRow(error));
        }
      })), told);
}

/* What is wrong with a table comes line by line. */
function rowByRow(error) {
  const [first, ...rows] = (error.thing ?? error.message).split("\n").map((one) => one.trim()).filter(Boolean);
  const shown = problem(Object.assign(new Error(first), error, { thing: first }));
  if (rows.length) shown.querySelector("p").after(h("ul", { class: "rows-wrong" }, rows.map((one) => h("li", {}, one))));
  return shown;
}
