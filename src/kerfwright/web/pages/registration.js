/* A sheet's program turned to where two marks were read on the bed. */

import { post } from "./api.js";
import { fixturesOf } from "./fixtures_known.js";
import { fill, h, mm, problem, say } from "./ui.js";

/* What a form is left empty with: the marks of the fixture that lies there, where it has them. */
function plannedMarks(order, sheet) {
  return fixturesOf(order).named(sheet.sheet)?.marks_mm ?? [];
}

export function registration(order, sheet) {
  const made = h("div", { role: "status" });
  const inputs = new Map();
  const number = (key, words) => {
    const input = h("input", { type: "number", step: "any", required: true, inputmode: "decimal", "aria-label": words });
    inputs.set(key, input);
    return input;
  };
  const row = (n, name) => h("tr", {}, h("th", { scope: "row" }, name), [["planned", "x", "planned x"], ["planned", "y", "planned y"], ["read", "x", "read x"], ["read", "y", "read y"]].map(
    ([kind, axis, words]) => h("td", {}, number(`${kind}-${n}-${axis}`, `${name}, ${words} in mm`))));
  const tolerance = h("input", { type: "number", min: 0, max: 100, step: "any", value: 0.3, required: true, class: "short" });
  const value = (kind) => [0, 1].map((n) => ["x", "y"].map((axis) => Number(inputs.get(`${kind}-${n}-${axis}`).value)));

  const form = h("form", { onsubmit: async (event) => {
    event.preventDefault();
    fill(made, h("p", { class: "soft" }, "Turning the program, and proving it there …"));
    try {
      show(await post(`${order.path}/sheets/${sheet.number}/registered`, { planned: value("planned"), read: value("read"), tolerance_mm: Number(tolerance.value) }));
    } catch (error) {
      fill(made, problem(error));
    }
  } },
    h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Two marks" }, h("table", { class: "marks" }, h("caption", { class: "unseen" }, "Two marks, in mm"),
      h("thead", {}, h("tr", {}, h("td", {}), h("th", { scope: "colgroup", colspan: 2 }, "Planned, x and y in mm"), h("th", { scope: "colgroup", colspan: 2 }, "Read on the bed, x and y"))),
      h("tbody", {}, row(0, "First mark"), row(1, "Second mark")))),
    h("div", { class: "row" }, h("label", {}, h("span", {}, "Distance may be off by, in mm"), tolerance), h("button", {}, "Turn the program to the marks")));

  function show(turned) {
    const address = URL.createObjectURL(new Blob([turned.text], { type: "text/plain" }));
    const [x, y] = turned.moved_mm;
    const words = `Turned by ${turned.turned_deg.toFixed(3)}°, moved by x ${x.toFixed(2)}, y ${y.toFixed(2)} mm. The marks were read ${mm(Math.abs(turned.apart_mm))} ${turned.apart_mm < 0 ? "nearer together" : "further apart"} than planned.`;
    fill(made, h("p", {}, words), h("p", {}, turned.words), h("p", {}, h("a", { class: "button", href: address, download: turned.name }, `Save ${turned.name}`)));
    say(words);
  }

  const box = h("details", { "data-help": "program/marks-differ", ontoggle: () => {
    if (!box.open || inputs.get("planned-0-x").value !== "") return;
    plannedMarks(order, sheet).forEach((at, n) => at.forEach((one, axis) => { inputs.get(`planned-${n}-${"xy"[axis]}`).value = Number(one.toFixed(3)); }));
  } },
    h("summary", {}, "Turn the program to two marks read on the bed"),
    h("p", { class: "small" }, "Run the machine’s pointer over two marks far apart, and write down where it shows them. The program is turned and moved, never stretched, and proven again where it then lies."),
    form, made);
  return box;
}
