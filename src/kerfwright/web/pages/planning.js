/* The strip on top of an order: where its planning stands, and what can be done about it. */

import { events, get, post, remove } from "./api.js";
import { nestPictures } from "./nest_pictures.js";
import { action, duration, facts, fill, findings, h, plain, problem, say } from "./ui.js";

export const help = "pages/planning";

export function create(order) {
  return new Strip(order);
}

class Strip {
  constructor(order) {
    this.order = order;
    this.path = `${order.path}/planning`;
    this.state = null;
    this.trouble = null;
    this.lost = false;
    this.words = h("p", { class: "planning-state", id: "planning-state" });
    this.numbers = h("div", {});
    this.buttons = h("div", { class: "row" });
    this.result = h("div", {});
    this.nest = nestPictures();
    this.element = h("section", { class: "planning card", "aria-label": "Plan", "data-help": help },
      this.words, this.numbers, this.buttons, this.nest.element, this.result);
    order.on("replan", () => this.plan().catch((error) => this.failed(error)));
    this.begin().catch((error) => this.failed(error));
  }

  async begin() {
    this.take(await get(this.path));
    this.listen();
  }

  /* Listens while the page is seen: a browser has few lines to one server. What was missed comes first. */
  listen() {
    const own = (then) => (news) => (news.order === this.order.slug ? then(news) : null);
    const on = {
      state: own((state) => this.take(state)),
      progress: own(({ words, number }) => this.take({ ...this.state, words, number })),
      layout: own((layout) => { this.nest.show(layout); this.order.tell("layout", layout); }),
    };
    let close = null;
    const tune = () => {
      if (document.hidden) { close?.(); close = null; } else { close ??= events("/events", on, () => this.resume().catch((error) => this.failed(error))); }
    };
    document.addEventListener("visibilitychange", tune);
    tune();
  }

  /* A server that was started anew knows nothing of what went on, and so sends no news of it. */
  async resume() {
    const before = this.state;
    if (before.state === "idle") return;
    const now = await get(this.path);
    if (this.state !== before || now.state !== "idle" || now.outcome !== "none") return;
    this.lost = true;
    await this.order.load();
    this.take(now);
  }

  async plan() {
    this.trouble = null;
    this.lost = false;
    this.take(await post(this.path));
  }

  /* An answer can come after the news of what followed it: the newest state is kept. */
  take(state) {
    const before = this.state;
    if (before && state.number < before.number) return;
    this.state = state;
    if (before && before.finished !== state.finished && state.state === "idle") {
      this.ended().catch((error) => this.failed(error));
      return;
    }
    if (before && before.state !== state.state) say(this.inWords());
    this.show();
  }

  async ended() {
    this.nest.clear();
    if (this.state.outcome === "planned") {
      await this.order.load();
      this.order.tell("planned");
    }
    this.show();
    say(this.inWords());
  }

  failed(error) {
    this.trouble = error;
    this.show();
  }

  show() {
    const { state, outcome, error, findings: found } = this.state ?? {};
    const idle = state === "idle" || state === undefined;
    this.words.textContent = plain(this.inWords());
    this.words.setAttribute("aria-busy", String(!idle));
    fill(this.numbers, idle ? this.facts() : null);
    fill(this.result, this.trouble ? problem(this.trouble) : null,
      idle && outcome === "stopped" ? findings(found) : null,
      idle && outcome === "refused" ? refusal(error) : null);
    this.showButtons(idle);
    if (idle) this.nest.clear();
  }

  /* Buttons are only made anew when others are needed, so that the focus stays where it is. */
  showButtons(idle) {
    const { state } = this.state ?? {};
    const wanted = idle ? (this.order.data.plan_document ? "again" : "first") : state;
    if (wanted === this.buttonsFor) return;
    const focused = this.buttons.contains(document.activeElement);
    this.buttonsFor = wanted;
    fill(this.buttons, idle ? action(wanted === "again" ? "Plan again" : "Plan", () => this.plan(), { class: "main", id: "plan-order" }) : [
      state === "planning" ? action("Stop and keep the best", async () => this.take(await remove(this.path)), { id: "stop-planning" }) : null,
      action(state === "queued" ? "Take out of the queue" : "Drop this planning", async () => this.take(await post(`${this.path}/cancel`)), { id: "drop-planning" }),
    ]);
    if (focused) this.buttons.querySelector("button")?.focus();
  }

  inWords() {
    const { state, position, words, outcome, findings: found, took_s: took, kept } = this.state ?? {};
    if (state === "queued") return position ? `Waits to be planned, ${ordinal(position)} in the queue.` : "Waits to be planned.";
    if (state === "planning" || state === "stopping") return `${words || "Planning"} …`;
    const earlier = this.order.data.plan_document ? " What stands below is the earlier plan." : "";
    if (outcome === "stopped") return `Not planned: ${stops(found)}.${earlier}`;
    if (outcome === "refused") return `Not planned.${earlier}`;
    const { plan } = this.order.data;
    if (this.lost && plan !== "current") return `Not planned: Kerfwright ended while it was at it, and was started anew.${earlier}`;
    if (plan === "none") return outcome === "dropped" ? "The planning was dropped. Not planned yet." : "Not planned yet.";
    if (plan === "out-of-date") return `${outcome === "dropped" ? "The planning was dropped. " : ""}Changed since it was planned.`;
    if (outcome !== "planned" || !took) return "Planned.";
    return `Planned in ${duration(took)}${kept ? "; what had not changed was kept from before" : ""}.`;
  }

  facts() {
    const plan = this.order.data.plan_document;
    if (!plan) return null;
    const pairs = [
      ["Machine time", duration(plan.totals.expected?.total_s ?? plan.totals.time_s)],
      ["Sheets", String(plan.sheets.length)],
      ["Parts", String(plan.totals.parts)],
    ];
    const cost = costOf(plan);
    const { currency } = this.order.data;
    if (cost !== null) pairs.push(["Cost of sheets and machine", `${cost} ${currency}`.trim()]);
    return facts(pairs);
  }
}

/* What placing says that sheets and machine cost, where it says so of every material. */
function costOf(plan) {
  const placing = plan.decisions.filter((one) => one.code === "nesting/placing");
  const costs = placing.map((one) => one.alternatives.find((way) => way.way === one.chosen)?.money ?? null);
  const materials = new Set(plan.sheets.map((sheet) => sheet.material));
  if (costs.length < materials.size || costs.includes(null)) return null;
  return costs.reduce((sum, one) => sum + Number(one), 0).toFixed(2);
}

function stops(found) {
  const count = found.filter((one) => one.severity === "stop").length;
  return count === 1 ? "one thing stops it" : `${count} things stop it`;
}

/* An error of the last try; it was said already when it came. */
function refusal(error) {
  return h("div", { class: "problem" },
    h("p", {}, error.file ? h("strong", {}, `${error.file}: `) : null, error.thing),
    error.remedy ? h("p", {}, error.remedy) : null,
    h("p", { class: "small" }, h("a", { href: error.help, target: "_blank" }, "More about this")));
}

function ordinal(number) {
  const last = number % 100 > 10 && number % 100 < 14 ? 0 : number % 10;
  return `${number}${["th", "st", "nd", "rd"][last] ?? "th"}`;
}
