/* A program for one part again, or for what is left after a stop. */

import { get, post } from "./api.js";
import { action, fill, h, problem, say } from "./ui.js";

/* Has a program written for what is wanted, and offers it in the element. */
export async function excerpt(order, sheet, wanted, element) {
  const made = await post(`${order.path}/sheets/${sheet.number}/excerpt`, wanted);
  const address = URL.createObjectURL(new Blob([made.text], { type: "text/plain" }));
  fill(element, h("p", {}, made.words), h("p", {}, h("a", { class: "button", href: address, download: made.name }, `Save ${made.name}`)));
  say(made.words);
}

export function excerptForm(order, sheet) {
  const chosen = h("select", { name: "part" });
  const line = h("input", { type: "number", min: 1, inputmode: "numeric" });
  const made = h("div", { role: "status" });
  const take = (wanted) => excerpt(order, sheet, wanted, made);
  const box = h("details", { ontoggle: async () => {
    if (!box.open || chosen.length) return;
    try {
      const { parts } = await get(`${order.path}/sheets/${sheet.number}/parts`);
      chosen.append(...parts.map((name) => h("option", { value: name }, name)));
    } catch (error) {
      fill(made, problem(error));
    }
  } },
    h("summary", {}, "One part again, or go on after a stop"),
    h("div", { class: "row" }, h("label", {}, h("span", {}, "Part"), chosen),
      action("Make only this part again", () => take({ part: chosen.value })),
      action("Go on after this part", () => take({ after_part: chosen.value }))),
    h("div", { class: "row" }, h("label", {}, h("span", {}, "Line of the program"), line),
      action("Go on from this line", () => take({ from_line: Number(line.value) || 1 }))),
    h("p", { class: "small soft" }, "Going on is safe only if neither sheet nor zero has moved. A part made again burns where it lay: lay material there that has not been cut."),
    made);
  return box;
}
