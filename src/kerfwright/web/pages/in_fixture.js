/* An item in a fixture: which, how its marks lie in the pockets, and a picture of both. */

import { get } from "./api.js";
import { many } from "./drawn.js";
import { boardOf, pocketsOf, pocketsPicture } from "./fixture_picture.js";
import { fixturesOf } from "./fixtures_known.js";
import { fill, findings, h, problem } from "./ui.js";

const FITS = [["scale", "as large as the blank takes"], ["centre", "in true size, in its middle"], ["as-drawn", "in true size, by the lower left corner"]];

export class InFixture {
  constructor(order, n) {
    Object.assign(this, { order, n, known: fixturesOf(order), drawn: "", asked: 0 });
    this.summary = h("summary", {});
    this.row = h("div", { class: "row" });
    this.trouble = h("div", {});
    this.picture = h("div", {});
    this.element = h("details", { class: "in-fixture", "data-help": "fixtures", ontoggle: () => this.draw() }, this.summary, this.row, this.trouble, this.picture);
  }

  get item() {
    return this.order.data.order.items[this.n];
  }

  /* print changes with the drawing, so that the picture follows it. */
  show(print = this.print) {
    const { item } = this;
    this.print = print;
    if (!item) return;
    fill(this.summary, "Blanks in a fixture", h("span", { class: "soft" }, item.fixture ? `: ${item.fixture}` : ""));
    const names = this.known.items.map((one) => one.name);
    if (item.fixture && !names.includes(item.fixture)) names.push(item.fixture);
    const id = (key) => `in-fixture-${this.n}-${key}`;
    const number = (key, words, attributes) => h("label", {}, h("span", {}, words), h("input", { type: "number", step: "any", class: "short", required: true, id: id(key), value: item[key], ...attributes,
      onchange: (event) => { if (event.target.reportValidity()) this.set({ [key]: Number(event.target.value) }); } }));
    if (this.row.contains(document.activeElement) && document.activeElement.matches("input")) { this.draw(); return; }
    fill(this.row,
      h("label", {}, h("span", {}, "Lies"), h("select", { id: id("fixture"), onchange: (event) => this.put(event.target.value) },
        h("option", { value: "", selected: !item.fixture }, "on a sheet"), names.map((name) => h("option", { value: name, selected: name === item.fixture }, `in ${name}`)))),
      item.fixture ? [
        h("label", {}, h("span", {}, "Marks are laid"), h("select", { id: id("fit"), onchange: (event) => this.set({ fit: event.target.value }) }, FITS.map(([value, words]) => h("option", { value, selected: value === item.fit }, words)))),
        number("inset_mm", "From the blank’s edge in mm", { min: 0 }),
        number("turned_deg", "Turned to the left by, in °", { min: -360, max: 360 })] : null);
    if (names.length === 0) fill(this.trouble, h("p", { class: "small soft" }, "The order has no fixture yet; add one under Fixtures, below the drawings."));
    else if (this.trouble.querySelector(".soft")) fill(this.trouble);
    this.draw();
  }

  put(name) {
    return this.set(name ? { fixture: name } : { fixture: null, fit: null, inset_mm: null, turned_deg: null });
  }

  async set(values) {
    fill(this.trouble);
    try {
      await this.order.change(Object.entries(values).map(([key, value]) => ({ at: ["items", this.n, key], value })));
    } catch (error) {
      fill(this.trouble, problem(error));
      this.show();
    }
  }

  async draw() {
    const { item } = this;
    const fixture = item?.fixture ? this.known.named(item.fixture) : null;
    const now = JSON.stringify([item?.fixture, item?.fit, item?.inset_mm, item?.turned_deg, item?.quantity, item?.batch, item?.mirror, item?.width_mm, this.print, fixture]);
    if (!this.element.open || now === this.drawn) return;
    const asked = ++this.asked;
    this.drawn = now;
    if (!fixture) { fill(this.picture); return; }
    try {
      const laid = fixture.trouble ? null : await get(`${this.order.path}/items/${this.n}/pockets`);
      if (asked !== this.asked) return;
      fill(this.picture, fixture.trouble ? problem({ thing: fixture.trouble }) : this.figure(fixture, laid), laid?.findings.length ? findings(laid.findings) : null);
    } catch (error) {
      if (asked === this.asked) fill(this.picture, problem(error));
    }
  }

  figure(fixture, laid) {
    const usable = fixture.pockets.filter((one) => one.in_use).length;
    const words = `${many(laid.copies, "copy", "copies")} in ${many(usable, "pocket")}: ${many(laid.loads, "load")}. The first is shown${this.item.batch ? ", with the words of the first row" : ""}.`;
    const pockets = pocketsOf(fixture, { marks: new Map(laid.marks.map((one) => [one.shape, one])), filled: new Set(laid.filled) });
    return h("figure", {}, pocketsPicture(boardOf(fixture), pockets, { label: `${fixture.name} with the marks in its pockets. ${words}` }).svg, h("figcaption", {}, words));
  }
}
