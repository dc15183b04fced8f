/* What an order says of one item, as fields; each is saved when it is left. */

import { fill, h, problem } from "./ui.js";

const ANY = [0, 90, 180, 270];
const TURNS = [["Any quarter turn", ANY], ["Half a turn (grain)", [0, 180]], ["Not at all", [0]]];
const PLACES = [["", "whichever costs least"], ["nest", "each part by itself"], ["compact", "slid together"], ["as-drawn", "as drawn"]];
const SIDES = ["bottom-left", "left", "right", "bottom", "top", "bottom-right", "top-left", "top-right"];
const ENGRAVE = [["", "as the order says"], ["fastest", "fastest"], ["scan", "scan"], ["contour-parallel", "contour-parallel"], ["mixed", "mixed"]];
const UNITS = ["mm", "cm", "m", "in", "ft", "pt", "px"];

/* save(changes) writes them; materials are names. */
export class ItemFields {
  constructor(n, save) {
    Object.assign(this, { n, save });
    this.common = h("div", { class: "row" });
    this.more = h("div", { class: "row" });
    this.trouble = h("div", {});
    this.element = h("div", { class: "fields", "data-help": "order", onfocusout: () => setTimeout(() => this.showLatest()) }, this.common,
      h("details", {}, h("summary", {}, "More about this item"), this.more), this.trouble);
  }

  show(item, materials, drawing) {
    this.item = item;
    this.latest = [item, materials, drawing];
    this.showLatest();
  }

  /* Waits while somebody types: what is not yet saved must not be replaced under the hands. */
  showLatest() {
    const at = document.activeElement;
    if (!this.latest || (this.element.contains(at) && at.matches("input:not([type=checkbox])"))) return;
    const [item, materials, drawing] = this.latest;
    this.latest = null;
    const kind = drawing.toLowerCase().replace(/^.*\./, "");
    const names = materials.includes(item.material) ? materials : [item.material, ...materials];
    fill(this.common,
      this.number("quantity", "Quantity", { min: 1, step: 1, needed: true }),
      this.choice("material", "Material", names.map((name) => [name, name])),
      kind === "dxf" ? this.choice("unit", "Unit of the drawing", [["", "as the file says"], ...UNITS.map((one) => [one, one])]) : null,
      kind === "pdf" ? this.number("page", "Page", { min: 1, step: 1 }) : null,
      ["dxf", "pdf", "svg", "svgz"].includes(kind) ? null : this.number("width_mm", "Width in mm", { min: 0.001, step: "any" }),
      this.text("name", "Parts are called"),
      this.text("due", "Due", "date"),
      this.turns(),
      this.tick("fill", "Fill up sheets in use with more", { at_most: null }),
      item.fill ? this.number("at_most", "At most in all", { min: item.quantity, step: 1 }) : null);
    fill(this.more,
      kind === "dxf" ? null : this.choice("pictures", "Pictures are", [["photo", "burned as photos"], ["trace", "traced into areas"], ["leave-out", "left out"]], "photo"),
      this.choice("place", "Parts are placed", PLACES),
      item.place === "compact" ? this.choice("compact_to", "Slid to the", SIDES.map((one) => [one, one.replace("-", " ")]), "bottom-left") : null,
      this.choice("engrave", "Areas are engraved", ENGRAVE),
      this.choice("photo_rows", "Rows of photos run", [["fastest", "whichever is faster"], ["level", "level"], ["upright", "upright"]], "fastest"),
      this.number("tabs", "Holding tabs a part", { min: 0, step: 1 }),
      this.number("fit_mm", "Slots wider than the sheet by, in mm", { min: -2, step: "any" }),
      this.number("priority", "Placed first from 1", { min: 1, step: 1 }),
      this.text("kit", "On one sheet with items of kit"),
      this.tick("one_sheet", "Parts of one copy lie on one sheet"),
      this.tick("may_turn_over", "Parts without marks may be turned over"),
      this.tick("mirror", "Mirrored: stamps, work from the back"),
      this.tick("blank", "Made elsewhere, only marked here"));
  }

  id(key) {
    return `item-${this.n}-${key}`;
  }

  async set(changes) {
    this.trouble.replaceChildren();
    try {
      await this.save(Object.entries(changes).map(([key, value]) => ({ at: ["items", this.n, key], value })));
    } catch (error) {
      this.trouble.replaceChildren(problem(error));
    }
  }

  /* Takes out what is not there anyway, so that the order file stays short. */
  change(key, value, others = {}) {
    return this.set({ [key]: value, ...Object.fromEntries(Object.entries(others).filter(([name]) => this.item[name] !== null)) });
  }

  number(key, words, { min, step, needed = false }) {
    return labelled(words, h("input", {
      type: "number", class: "short", id: this.id(key), min, step, required: needed, value: this.item[key] ?? "",
      onchange: (event) => {
        const input = event.target;
        if (input.reportValidity()) this.change(key, input.value === "" ? null : Number(input.value));
      },
    }));
  }

  text(key, words, type = "text") {
    return labelled(words, h("input", { type, id: this.id(key), maxlength: 200, value: this.item[key] ?? "", onchange: (event) => this.change(key, event.target.value.trim() || null) }));
  }

  choice(key, words, options, usual = "") {
    return labelled(words, h("select", { id: this.id(key), onchange: (event) => this.change(key, event.target.value === usual ? null : event.target.value) },
      options.map(([value, text]) => h("option", { value, selected: value === (key === "place" && this.item.place === "cheapest" ? "" : this.item[key] ?? usual) }, text))));
  }

  tick(key, words, others = {}) {
    return h("label", { class: "beside" }, h("input", { type: "checkbox", id: this.id(key), checked: this.item[key], onchange: (event) => this.change(key, event.target.checked || null, event.target.checked ? {} : others) }),
      h("span", {}, words));
  }

  turns() {
    const now = JSON.stringify(this.item.turns_deg);
    const known = TURNS.some(([, turns]) => JSON.stringify(turns) === now);
    const options = known ? TURNS : [[`${this.item.turns_deg.join("°, ")}°`, this.item.turns_deg], ...TURNS];
    return labelled("May be turned", h("select", { id: this.id("turns_deg"), onchange: (event) => {
      const turns = JSON.parse(event.target.value);
      this.change("turns_deg", JSON.stringify(turns) === JSON.stringify(ANY) ? null : turns);
    } }, options.map(([words, turns]) => h("option", { value: JSON.stringify(turns), selected: JSON.stringify(turns) === now }, words))));
  }
}

const labelled = (words, control) => h("label", {}, h("span", {}, words), control);
