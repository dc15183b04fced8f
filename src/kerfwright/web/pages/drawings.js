/* The order's drawings: each with its picture, findings, fields and rules. */

import { BatchBox } from "./batch.js";
import { get, remove, upload, post } from "./api.js";
import { drawingsOf } from "./drawn.js";
import { DrawnPicture } from "./drawn_picture.js";
import { dropping } from "./dropping.js";
import { fixturesBox } from "./fixtures.js";
import { fixturesOf } from "./fixtures_known.js";
import { InFixture } from "./in_fixture.js";
import { ItemFields } from "./item_fields.js";
import { gone } from "./moved_places.js";
import { Rules } from "./rules.js";
import { action, dialog, fill, findings, h, problem, say } from "./ui.js";

export const id = "drawings";
export const title = "Drawings";
export const help = "pages/drawings";

export function create(order) {
  const drawings = drawingsOf(order);
  const blocks = [];
  const list = h("div", {});
  const undo = h("div", {});
  const name = h("input", {
    maxlength: 200, required: true,
    onchange: async () => {
      if (!name.reportValidity()) return;
      await order.change([{ at: ["title"], value: name.value.trim() }]).catch((error) => fill(undo, problem(error)));
    },
  });
  let materials = [];
  const fixtures = fixturesBox(order, () => materials);

  const highlight = (marks) => blocks.forEach((block, n) => block.picture.highlight(marks.get(n) ?? ""));

  async function add(files) {
    const material = order.data.order.items.at(-1).material;
    await order.changing((seen) => upload(`${order.path}/items`, files, { material }, "POST", { seen }));
    say(files.length === 1 ? "One drawing was added." : `${files.length} drawings were added.`);
  }

  async function takeOut(n) {
    const name = drawings.nameOf(n);
    let moves = [];
    const answer = await order.changing((seen, now) => {
      const [list, number] = now(["items", n]) ?? gone();
      moves = [{ list: [list], taken: number }];
      return remove(`${order.path}/items/${number}`, { seen });
    }, { moves: () => moves });
    say(`${name} was removed from the order.`);
    const back = action("Undo", async () => {
      const [{ list, taken }] = moves;
      await order.changing(() => post(`${order.path}/undo`, answer.undo), { pageOf: (page) => page, moves: () => [{ list, added: taken }] });
      say(`${name} is back.`);
      fill(undo);
    });
    fill(undo, h("p", { class: "undo" }, `“${name}” was removed from the order; its file is still there. `, back));
    back.querySelector("button").focus();
  }

  async function replace(n) {
    const place = dropping("Drop the new drawing here.", (files) => { chosen = files[0]; fill(shown, chosen.name); }, { multiple: false, button: "Choose a file" });
    const shown = h("p", {});
    let chosen = null;
    if ((await dialog(`Replace ${drawings.nameOf(n)}`, [place, shown], { yes: "Replace" })) === null || chosen === null) return;
    const answer = await order.changing((seen, now) => upload(`${order.path}/items/${(now(["items", n]) ?? gone())[1]}/drawing`, [chosen], {}, "PUT", { seen }));
    say(answer.kept ? `Replaced; the former file is ${answer.kept}.` : "Replaced.");
  }

  function showTitle() {
    fill(document.querySelector("h1"), order.data.order.title);
    if (document.activeElement !== name) name.value = order.data.order.title;
  }

  /* A block stays with its item, so that what is typed or open in it does not pass to another. */
  function follow(moves) {
    for (const { taken, added } of moves.filter(({ list }) => list.length === 1 && list[0] === "items")) {
      if (taken !== undefined) blocks.splice(taken, 1);
      else if (added < blocks.length) blocks.splice(added, 0, itemBlock(added));
      blocks.forEach((block, n) => block.stand(n));
    }
    drawings.follow(moves);
  }

  function show(moves = []) {
    showTitle();
    follow(moves);
    const items = order.data.order.items;
    while (blocks.length < items.length) blocks.push(itemBlock(blocks.length));
    blocks.length = items.length;
    if (blocks.length !== list.children.length || blocks.some((block, n) => block.element !== list.children[n])) showBlocks();
    for (const block of blocks) block.showItem();
    drawings.refresh();
    fixtures.show();
  }

  /* What stays is not touched: moved about, it would lose the focus. */
  function showBlocks() {
    for (const element of [...list.children]) if (!blocks.some((block) => block.element === element)) element.remove();
    blocks.forEach((block, n) => { if (list.children[n] !== block.element) list.insertBefore(block.element, list.children[n] ?? null); });
  }

  function itemBlock(n) {
    const name = h("h3", {});
    const onPaper = h("p", { class: "on-paper" });
    const told = h("div", {});
    const heading = h("h4", { hidden: true }, "Findings");
    const trouble = h("div", {});
    const reading = h("p", { class: "soft" }, "Reading the drawing …");
    const picture = new DrawnPicture({ onsign: (index) => goTo(told, index), onkind: (index) => rules.likeThese(index) });
    const rules = new Rules(order, n, highlight);
    const fields = new ItemFields(n, (changes) => order.change(changes));
    const batch = new BatchBox(order, n);
    const inFixture = new InFixture(order, n);
    const element = h("article", { class: "item" },
      name, onPaper,
      h("div", { class: "beside-picture" },
        h("div", {}, reading, trouble, picture.element, rules.element),
        h("div", {}, fields.element, batch.element, inFixture.element, heading, told,
          h("div", { class: "row no-print" },
            action("Replace the file", () => replace(n)),
            action("Remove from the order", () => takeOut(n), { once: true })))));
    picture.element.hidden = rules.element.hidden = true;
    const stand = (number) => {
      n = number;
      name.id = `item-${n}`;
      element.setAttribute("aria-labelledby", name.id);
      for (const one of [rules, fields, batch, inFixture]) one.n = n;
    };
    stand(n);

    return {
      stand,
      element,
      picture,
      inFixture,
      showItem() {
        const item = order.data.order.items[n];
        fill(name, drawings.nameOf(n), h("span", { class: "soft" }, ` × ${item.quantity}, ${item.drawing}`));
        fill(onPaper, [item.material, item.due ? `ready by ${item.due}` : null].filter(Boolean).join(" · "));
        fields.show(item, materials, item.drawing);
        batch.show();
        inFixture.show();
      },
      showDrawing() {
        const { data, error } = drawings.items[n];
        reading.hidden = Boolean(data || error);
        heading.hidden = !data;
        picture.element.hidden = rules.element.hidden = !data;
        fill(trouble, error ? problem(error) : null, data?.trouble ? [h("p", {}, "Sheets, kerf and thickness are not checked yet:"), problem(data.trouble)] : null);
        fill(told, data ? findings(data.findings, { numbered: true, onpoint: (index) => picture.showFinding(index) }) : null);
        if (!data) return;
        inFixture.show(data.digest);
        picture.show(data);
        rules.show(data);
      },
    };
  }

  drawings.on((n) => {
    if (n === null) return;
    blocks[n]?.showDrawing();
  });
  order.on("select", (what) => {
    blocks.forEach((block, n) => block.picture.select(n === what?.item ? what.part : null));
    if (what?.item !== undefined) blocks[what.item]?.picture.element.scrollIntoView({ block: "nearest" });
  });
  fixturesOf(order).on(() => blocks.forEach((block) => block.inFixture.show()));
  get("/new-order").then((offered) => {
    materials = offered.materials.map((one) => one.name);
    for (const block of blocks) block.showItem();
  }).catch(() => {});

  const element = h("div", {},
    h("div", { class: "row" }, h("label", { class: "wide" }, h("span", {}, "Title of the order"), name)), undo, list, fixtures.element,
    h("div", { class: "no-print" }, dropping("Drop drawings here to add them to the order.", add, { button: "Choose drawings" })));
  return { element, show };
}

/* Brings a finding of the list into sight and under the focus. */
function goTo(told, index) {
  const line = told.querySelector(`[data-finding="${index}"]`);
  if (!line) return;
  const folded = line.closest("details");
  if (folded) folded.open = true;
  line.setAttribute("tabindex", "-1");
  line.scrollIntoView({ block: "nearest" });
  line.focus({ preventScroll: true });
}
