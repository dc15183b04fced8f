/* Fixtures of the order: boards whose pockets hold blanks. Added, changed, cut; pockets clicked out of use. */

import { text, upload } from "./api.js";
import { dropping } from "./dropping.js";
import { many } from "./drawn.js";
import { FixtureForm } from "./fixture_form.js";
import { boardOf, crossesOf, pocketsOf, pocketsPicture } from "./fixture_picture.js";
import { fixturesOf } from "./fixtures_known.js";
import { action, fill, h, mm, problem, say } from "./ui.js";

/* materials() gives the names of the workshop's. */
export function fixturesBox(order, materials) {
  const known = fixturesOf(order);
  const list = h("div", {});
  const begun = h("div", {});
  const summary = h("summary", {});
  const forms = new Map();

  const add = (way) => {
    const form = new FixtureForm(order, { way, done: () => fill(begun) });
    fill(begun, form.element);
    form.inputs.get("name").focus();
  };

  function addDrawn() {
    const name = h("input", { required: true, maxlength: 200 });
    const layer = h("input", { maxlength: 200, placeholder: "all" });
    const form = h("form", { class: "fixture-form", onsubmit: (event) => event.preventDefault() },
      h("p", { class: "small" }, "Every closed line of the drawing is a pocket, as large as its blank; a line round all others is the board’s own edge. The board is as large as the page."),
      h("div", { class: "row" }, h("label", { class: "wide" }, h("span", {}, "Called"), name), h("label", {}, h("span", {}, "Only lines of the layer"), layer)),
      dropping("Drop the drawing of the pockets here.", async (files) => {
        if (!form.reportValidity()) return;
        const given = { name: name.value.trim() };
        if (layer.value.trim()) given.layer = layer.value.trim();
        await order.changing((seen) => upload(`${order.path}/fixtures/drawn`, files, given, "POST", { seen }), { pageOf: (page) => page });
        fill(begun);
        say(`${given.name} was added.`);
      }, { multiple: false, button: "Choose the drawing" }),
      h("div", { class: "row" }, h("button", { type: "button", onclick: () => fill(begun) }, "Cancel")));
    fill(begun, form);
    name.focus();
  }

  function card(shown, place) {
    const form = h("div", {});
    const { own, described } = shown;
    const key = `${own}:${shown.file}`;
    const close = () => { forms.delete(key); fill(form); };
    const open = (way) => {
      const made = new FixtureForm(order, { described, own, way, done: close });
      forms.set(key, made);
      fill(form, made.element);
      made.inputs.get("name").focus();
    };
    if (forms.has(key)) fill(form, forms.get(key).element);
    const used = order.data.order.items.filter((item) => item.fixture === shown.name).length;
    const usable = shown.pockets.filter((one) => one.in_use).length;
    const toggle = own === null ? null : async ({ number, in_use: inUse }) => {
      const now = described.out_of_use ?? [];
      const next = inUse ? [...now, number].sort((a, b) => a - b) : now.filter((one) => one !== number);
      await order.change([{ at: ["fixtures", own, "out_of_use"], value: next.length ? next : null }]);
      say(`Pocket ${number} is ${inUse ? "out of" : "in"} use.`);
    };
    const label = `${shown.name}, ${mm(shown.width_mm)} by ${mm(shown.height_mm)}, ${shown.count} pockets`;
    return h("article", { class: "card fixture-card" },
      h("h4", {}, shown.name, h("span", { class: "soft" }, shown.file ? `, ${shown.file}` : "")),
      h("p", { class: "soft small" }, [`${mm(shown.width_mm)} × ${mm(shown.height_mm)}`, shown.trouble ? null : many(shown.count, "pocket"), usable < shown.pockets.length ? `${shown.pockets.length - usable} out of use` : null, `on the bed at ${mm(shown.at_mm[0])}, ${mm(shown.at_mm[1])}`, used ? `holds ${many(used, "item")}` : "holds nothing yet"].filter(Boolean).join(" · ")),
      shown.trouble ? h("div", { class: "problem" }, h("p", {}, shown.trouble)) : h("figure", {},
        pocketsPicture(boardOf(shown), pocketsOf(shown), { label, crosses: crossesOf(shown), onpocket: toggle }).svg,
        h("figcaption", {}, [toggle ? "Choose a pocket to take it out of use, or into use again." : null, shown.count > shown.pockets.length ? `Only the first ${shown.pockets.length} pockets are drawn.` : null].filter(Boolean).join(" "))),
      h("div", { class: "row no-print" }, own === null
        ? [h("p", { class: "small soft" }, "It has a file of its own that other orders may use. Taken into this order, it can be changed here."), action("Take it into this order", () => takeIn(shown))]
        : [described.drawing ? null : h("button", { type: "button", onclick: () => open("hand") }, "Draw its pockets by hand"),
          described.grid ? h("button", { type: "button", onclick: () => open("grid") }, "Change board and grid") : null,
          described.drawing ? h("button", { type: "button", onclick: () => open("drawing") }, "Change the board") : null,
          action("Take it out", () => takeOut(own), { once: true, "aria-label": `Take out ${shown.name}` })]),
      form,
      shown.trouble ? null : cutting(order, shown, place, materials));
  }

  /* The others count anew, so that what is open for one of them must not be saved to another. */
  const takeOut = async (own) => {
    await order.change([{ at: ["fixtures", own], value: null }]);
    forms.clear();
  };

  const takeIn = (shown) => {
    const { fixture_files: files, fixtures } = order.data.order;
    const drop = files.length === 1 ? { at: ["fixture_files"], value: null } : { at: ["fixture_files", files.indexOf(shown.file)], value: null };
    return order.change([drop, { at: ["fixtures", fixtures.length], value: shown.described }]);
  };

  let drawn = "";
  known.on(() => {
    fill(summary, "Fixtures", h("span", { class: "soft" }, known.items.length ? ` (${known.items.length}): ${known.items.map((one) => one.name).join(", ")}` : ": boards whose pockets hold blanks"));
    const now = JSON.stringify([known.items, known.error?.thing, order.data.order.items.map((item) => item.fixture)]);
    if (now === drawn) return;
    drawn = now;
    const pocket = document.activeElement?.closest?.("[data-pocket]");
    const back = pocket && list.contains(pocket) ? [[...list.children].findIndex((one) => one.contains(pocket)), pocket.dataset.pocket] : null;
    fill(list, known.error ? problem(known.error) : null, known.items.map(card));
    if (back) list.children[back[0]]?.querySelector(`[data-pocket="${back[1]}"]`)?.focus();
  });
  const element = h("details", { class: "fixtures", "data-help": "fixtures" }, summary, list,
    h("div", { class: "row no-print", role: "group", "aria-label": "Add a fixture" },
      h("button", { type: "button", onclick: () => add("grid") }, "Add one with a grid"),
      h("button", { type: "button", onclick: addDrawn }, "Add one by a drawing"),
      h("button", { type: "button", onclick: () => add("hand") }, "Add one drawn by hand")), begun);
  return { element, show: () => known.refresh() };
}

/* Its drawing as a download, as an item of this order, or as an order of its own. */
function cutting(order, shown, place, materials) {
  const clearance = h("input", { type: "number", class: "short", min: 0, max: 20, step: "any", required: true, value: shown.described.clearance_mm ?? 0.2 });
  const marks = h("input", { type: "checkbox", checked: true });
  const material = h("select", {});
  const links = h("span", { class: "row" });
  const address = (kind) => `${order.path}/fixtures/${place}/board.${kind}?clearance_mm=${Number(clearance.value) || 0}&marks=${marks.checked}`;
  const link = (kind) => h("a", { class: "button", href: `/api${address(kind)}`, download: "" }, `Save as ${kind.toUpperCase()}`);
  const showLinks = () => fill(links, link("svg"), link("dxf"));
  const begun = h("div", { role: "status" });
  const drawing = async () => new File([await text(address("svg"))], `${shown.name}.svg`, { type: "image/svg+xml" });
  showLinks();
  const box = h("details", { class: "cutting", ontoggle: () => fill(material, materials().map((name) => h("option", { value: name, selected: name === order.data.order.items[0]?.material }, name))) },
    h("summary", {}, "Cut this fixture"),
    h("p", { class: "small" }, "Its drawing has the edge, the pockets wider than their blanks by the clearance, their numbers, and two marks to read its place on the bed by."),
    h("div", { class: "row", onchange: showLinks }, h("label", {}, h("span", {}, "Clearance all round in mm"), clearance), h("label", { class: "beside" }, marks, h("span", {}, "With two marks"))),
    h("div", { class: "row" }, links),
    h("div", { class: "row" }, h("label", {}, h("span", {}, "Cut from"), material),
      action("Add it to this order", async () => {
        const board = await drawing();
        await order.changing((seen) => upload(`${order.path}/items`, [board], { material: material.value }, "POST", { seen }));
        say(`${shown.name} was added to the order as a drawing.`);
      }),
      action("Begin an order from it", async () => {
        const { slug } = await upload("/orders", [await drawing()], { title: `${shown.name}, the board`, material: material.value });
        fill(begun, h("p", {}, "The order is begun: ", h("a", { href: `/orders/${encodeURIComponent(slug)}` }, `${shown.name}, the board`)));
        begun.querySelector("a").focus();
      })), begun);
  return box;
}
