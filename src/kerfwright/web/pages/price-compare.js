/* What the order costs in other numbers and materials: each way is planned beside the order, which stays. */

import { get, post, remove } from "./api.js";
import { action, duration, fill, h, plain, problem, say } from "./ui.js";
import { table } from "./tables.js";

const POLL_MS = 1000;

export function comparison(order) {
  const path = `${order.path}/price/comparison`;
  const form = h("div", {});
  const state = h("div", {});
  const lines = h("div", {});
  const element = h("details", {}, h("summary", {}, "Compare with other numbers and materials"),
    h("p", { class: "soft small" }, "Each way is planned and priced beside the order, whose files stay as they are. It takes about as long as planning the order, once for each way."), form, state, lines);
  let timer = 0;
  let shown = "";
  let price = { quote: null };

  async function look() {
    clearTimeout(timer);
    const told = await get(path).catch(() => ({ state: "idle", lines: [], asked: {} }));
    if (told.state === "idle") { shown = "idle"; return; }
    element.open = true;
    if (told.state === "planning") {
      timer = setTimeout(look, POLL_MS);
      if (shown !== "planning") fill(state, h("p", { class: "soft" }), h("progress", { "aria-label": "Ways are worked out" }), action("Stop", putAway));
      state.querySelector("p").textContent = plain(told.words || "Starting");
    } else if (shown !== told.state) {
      fill(state, told.state === "failed" ? problem({ thing: told.words, remedy: told.remedy }) : null, action("Put it away", putAway));
      if (told.state === "ready") say("The prices are there.");
    }
    shown = told.state;
    fill(lines, told.lines.length ? ways(order, price.quote, told.lines) : null);
  }

  async function putAway() {
    clearTimeout(timer);
    await remove(path);
    shown = "idle";
    fill(state);
    fill(lines);
  }

  async function start(asked) {
    await putAway();
    await post(path, asked);
    await look();
  }

  return {
    element,
    show(told) {
      price = told;
      element.hidden = told.rates === null;
      if (!form.firstChild) fill(form, chooser(order, start));
      look();
    },
  };
}

function chooser(order, start) {
  const times = h("input", { name: "times", value: "2, 5, 10", inputmode: "numeric", size: 12 });
  const used = [...new Set(order.data.order.items.map((item) => item.material))];
  const boxes = materials(order, used).map((name) => [name, h("input", { type: "checkbox" })]);
  return [h("div", { class: "row" }, h("label", {}, h("span", {}, "So many times everything"), times)),
    boxes.length > 1 ? h("fieldset", {}, h("legend", {}, "All of it in one material"), boxes.map(([name, box]) => h("div", {}, h("label", { class: "beside" }, box, h("span", {}, name))))) : null,
    action("Work out the prices", () => start({ times: numbers(times.value), materials: boxes.filter(([, box]) => box.checked).map(([name]) => name) }))];
}

/* Materials of the order by name: those of its items and sheets; the files it lists may hold more. */
const materials = (order, used) => [...new Set([...used, ...(order.data.order.stock ?? []).map((sheet) => sheet.material)])];

function numbers(text) {
  const found = text.split(/[\s,;]+/).filter(Boolean).map(Number);
  if (found.some((one) => !Number.isInteger(one) || one < 1 || one > 10_000)) throw new Error("Give whole numbers with commas between, such as 2, 5, 10.");
  return found.filter((one) => one !== 1);
}

function ways(order, quote, lines) {
  const now = quote ? [{ way: order.data.plan === "current" ? "as ordered" : "as it was planned", net: quote.net, total: quote.total, currency: quote.currency, items: quote.items, beam_s: quote.beam_s, sheets: quote.sheets, why_not: "" }] : [];
  return table("Prices of other ways", [["Way"], ["To be paid", true], ["Before tax", true], ["One piece, before tax", true], ["Machine", true], ["Sheets", true]], [...now, ...lines].map((one) =>
    one.why_not
      ? h("tr", {}, h("th", { scope: "row" }, one.way), h("td", { colspan: 5 }, `Not possible: ${one.why_not}`))
      : h("tr", {}, h("th", { scope: "row" }, one.way), h("td", { class: "num" }, `${one.total} ${one.currency}`), h("td", { class: "num" }, one.net),
        h("td", { class: "num" }, one.items.map((item) => h("div", {}, one.items.length > 1 ? `${item.item} ` : null, item.each))),
        h("td", { class: "num" }, duration(one.beam_s)), h("td", { class: "num" }, String(one.sheets)))));
}
