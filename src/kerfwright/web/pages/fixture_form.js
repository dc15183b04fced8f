/* A fixture as a form: its board, and its pockets in a grid or drawn by hand; tried while it is typed. */

import { post } from "./api.js";
import { ByHand, placedOf } from "./fixture_by_hand.js";
import { boardOf, crossesOf, pocketsOf, pocketsPicture } from "./fixture_picture.js";
import { action, fill, h, problem } from "./ui.js";

const TRY_MS = 250;
const NEW = { name: "", width_mm: 300, height_mm: 200 };
const GRID = { columns: 3, rows: 2, first_mm: [50, 50], pitch_mm: [100, 100], diameter_mm: 80 };

let forms = 0;

/* way = "grid" | "hand" | "drawing" (only the board is changed). done() closes it. */
export class FixtureForm {
  constructor(order, { described = null, own = null, way, done }) {
    Object.assign(this, { order, own, way, asked: 0, timer: 0 });
    this.before = described ?? {};
    const from = { ...NEW, ...described };
    const grid = { ...GRID, ...described?.grid };
    if (described?.grid && !described.grid.diameter_mm) delete grid.diameter_mm;
    this.id = `fixture-${forms += 1}`;
    this.inputs = new Map();
    this.shown = h("div", {});
    this.trouble = h("div", { role: "status" });
    const board = h("fieldset", {}, h("legend", {}, "The board"), h("div", { class: "row" },
      h("label", { class: "wide" }, h("span", {}, "Called"), this.keep("name", h("input", { required: true, maxlength: 200, value: from.name }))),
      this.number("width_mm", "Width in mm", from.width_mm, { min: 1 }), this.number("height_mm", "Height in mm", from.height_mm, { min: 1 }),
      this.number("at_x", "On the bed at x, in mm", (from.at_mm ?? [0, 0])[0]), this.number("at_y", "On the bed at y, in mm", (from.at_mm ?? [0, 0])[1]),
      this.number("clearance_mm", "Pockets are cut wider by, in mm", from.clearance_mm ?? 0.2, { min: 0 })));
    this.hand = way === "hand" ? new ByHand(placedOf(from) ?? [], () => [this.value("width_mm") || 1, this.value("height_mm") || 1], () => this.tried()) : null;
    this.form = h("form", { class: "fixture-form", "data-help": "fixtures", onsubmit: (event) => event.preventDefault(), oninput: () => this.tried() },
      board,
      way === "grid" ? this.gridFields(grid) : null,
      this.hand ? h("fieldset", {}, h("legend", {}, "Pockets"), this.hand.element) : this.shown,
      this.trouble,
      h("div", { class: "row" },
        action(own === null ? "Add the fixture" : "Save the fixture", async () => {
          if (!this.form.reportValidity()) return;
          await order.change(this.changes());
          done();
        }, { class: "main" }),
        h("button", { type: "button", onclick: done }, "Cancel")));
    this.element = this.form;
    this.tried();
  }

  keep(key, input) {
    input.id = `${this.id}-${key}`;
    this.inputs.set(key, input);
    return input;
  }

  number(key, words, value, attributes = {}) {
    return h("label", {}, h("span", {}, words), this.keep(key, h("input", { type: "number", class: "short", step: "any", required: true, value: value ?? "", ...attributes })));
  }

  value(key) {
    return Number(this.inputs.get(key).value);
  }

  gridFields(grid) {
    const round = Boolean(grid.diameter_mm) || !grid.width_mm;
    const circle = this.number("diameter_mm", "Diameter in mm", grid.diameter_mm ?? 80, { min: 0.1 });
    const sides = [this.number("pocket_width", "Pocket’s width in mm", grid.width_mm ?? 60, { min: 0.1 }), this.number("pocket_height", "Pocket’s height in mm", grid.height_mm ?? 40, { min: 0.1 }), this.number("corner_mm", "Corners’ radius in mm", grid.corner_mm ?? 0, { min: 0 })];
    const shape = this.keep("shape", h("select", {}, grid.points ? h("option", { value: "points", selected: true }, "an outline of its own") : null,
      h("option", { value: "round", selected: !grid.points && round }, "round"), h("option", { value: "rectangle", selected: !grid.points && !round }, "a rectangle")));
    const showShape = () => {
      circle.hidden = shape.value !== "round";
      for (const side of sides) side.hidden = shape.value !== "rectangle";
      for (const label of [circle, ...sides]) label.querySelector("input").disabled = label.hidden;
    };
    shape.addEventListener("change", showShape);
    showShape();
    return h("fieldset", {}, h("legend", {}, "Pockets, each as large as its blank"), h("div", { class: "row" },
      this.number("columns", "Columns", grid.columns, { min: 1, max: 200, step: 1 }), this.number("rows", "Rows", grid.rows ?? 1, { min: 1, max: 200, step: 1 }),
      this.number("first_x", "Centre of the lower left one, x in mm", grid.first_mm[0]), this.number("first_y", "Centre of the lower left one, y in mm", grid.first_mm[1]),
      this.number("pitch_x", "From centre to centre, x in mm", (grid.pitch_mm ?? [0, 0])[0], { min: 0 }), this.number("pitch_y", "From centre to centre, y in mm", (grid.pitch_mm ?? [0, 0])[1], { min: 0 }),
      h("label", {}, h("span", {}, "A blank is"), shape), circle, sides));
  }

  /* What the form says, as a block of the order file does. */
  said() {
    const said = { name: this.inputs.get("name").value.trim() || "a fixture", width_mm: this.value("width_mm"), height_mm: this.value("height_mm"), at_mm: [this.value("at_x"), this.value("at_y")], clearance_mm: this.value("clearance_mm") };
    if (this.way === "hand") said.placed = this.hand.pockets;
    if (this.way === "grid") {
      const shape = this.inputs.get("shape").value;
      said.grid = { columns: this.value("columns"), rows: this.value("rows"), first_mm: [this.value("first_x"), this.value("first_y")], pitch_mm: [this.value("pitch_x"), this.value("pitch_y")] };
      if (shape === "round") said.grid.diameter_mm = this.value("diameter_mm");
      else if (shape === "points") said.grid.points = this.before.grid.points;
      else {
        Object.assign(said.grid, { width_mm: this.value("pocket_width"), height_mm: this.value("pocket_height") });
        if (this.value("corner_mm")) said.grid.corner_mm = this.value("corner_mm");
      }
    }
    return said;
  }

  /* Only what is new, so that comments and the rest of the block stay. */
  changes() {
    const said = this.said();
    if (this.own === null) return [{ at: ["fixtures", this.order.data.order.fixtures.length], value: said }];
    const at = (...keys) => ["fixtures", this.own, ...keys];
    const changes = this.differing(said, this.before).filter(([key]) => key !== "grid").map(([key, value]) => ({ at: at(key), value }));
    if (said.grid && this.before.grid) changes.push(...this.differing(said.grid, this.before.grid).map(([key, value]) => ({ at: at("grid", key), value })));
    else if (said.grid) changes.push({ at: at("grid"), value: said.grid });
    const former = this.way === "drawing" ? [] : ["grid", "pockets", "placed"].filter((key) => key in this.before && !(key in said));
    changes.push(...former.map((key) => ({ at: at(key), value: null })));
    // pockets are numbered anew, so that other ones would be out of use
    if (this.before.out_of_use && changes.some(({ at: [, , key] }) => ["grid", "placed"].includes(key))) changes.push({ at: at("out_of_use"), value: null });
    return changes;
  }

  differing(said, before) {
    const shape = ["diameter_mm", "width_mm", "height_mm", "corner_mm", "points"].filter((key) => "columns" in said && key in before && !(key in said)).map((key) => [key, null]);
    return [...Object.entries(said).filter(([key, value]) => JSON.stringify(value) !== JSON.stringify(before[key])), ...shape];
  }

  tried() {
    clearTimeout(this.timer);
    if (this.way === "drawing") return;
    this.timer = setTimeout(() => this.ask(), TRY_MS);
  }

  async ask() {
    if (!this.form.checkValidity() && !this.inputs.get("width_mm").checkValidity()) return;
    const asked = ++this.asked;
    const said = this.said();
    if (said.placed?.length === 0) { fill(this.trouble); return; }
    try {
      const shown = await post(`${this.order.path}/fixtures/try`, { fixture: said });
      if (asked !== this.asked) return;
      fill(this.trouble, shown.trouble ? h("p", { class: "banner" }, shown.trouble) : null);
      if (!this.hand) fill(this.shown, h("figure", {}, pocketsPicture(boardOf(shown), pocketsOf(shown), { label: `${said.name}: ${shown.count} pockets`, crosses: crossesOf(shown) }).svg));
      else if (this.hand.svg) this.hand.svg.classList.toggle("wrong", Boolean(shown.trouble));
    } catch (error) {
      if (asked === this.asked) fill(this.trouble, problem(error));
    }
  }
}
