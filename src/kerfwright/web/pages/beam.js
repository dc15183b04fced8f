/* The section on the beam's order: a sheet played by the machine's clock, and another way beside it. */

import { bytes, get } from "./api.js";
import { Clock } from "./playback-clock.js";
import { fitting, key, looks, transport } from "./playback-controls.js";
import { Moves } from "./playback-moves.js";
import { SheetView } from "./playback-view.js";
import { whatIf, wordsOf } from "./playback-what-if.js";
import { about, alike, compared, freed, moment, position, sentence } from "./playback-words.js";
import { facts, fill, findings, h, problem, say } from "./ui.js";

export const id = "beam";
export const title = "Beam order";
export const help = "sequence";

const OF_THIS_STAGE = ["sequence", "engraving", "cutting"];

/* An address with ?draw=plain draws without WebGL, one with ?draw=webgl with any that there is. */
const draw = new URLSearchParams(location.search).get("draw") ?? "";

async function loaded(path, number) {
  const at = `${path}/sheets/${number}`;
  const [playback, data] = await Promise.all([get(`${at}/playback`), bytes(`${at}/moves`)]);
  return { playback, moves: new Moves(data) };
}

export function create(order) {
  const element = h("div", {});
  let shownPlan = null;
  let player = null;

  async function begin() {
    player?.close();
    player = null;
    const sheets = await get(`${order.path}/playback`);
    if (sheets.length === 0) {
      fill(element, h("p", { class: "soft" }, "This plan cannot be played: it was not made on this page. Plan the order once more here."), ...beside(order));
      return;
    }
    player = new Player(order, sheets);
    fill(element, player.element, ...beside(order));
    await player.choose(sheets[0].number);
    await player.trial.look();
  }

  function show() {
    const plan = order.data.plan_document;
    if (!plan) {
      player?.close();
      player = shownPlan = null;
      fill(element, h("p", { class: "soft" }, "The path of the beam can be played once the order is planned."));
      return;
    }
    const print = JSON.stringify([plan.totals, plan.sheets.map((sheet) => sheet.program_sha256)]);
    if (print === shownPlan) return;
    shownPlan = print;
    begin().catch((error) => fill(element, problem(error)));
  }

  order.on("planned", () => {
    shownPlan = null;
    show();
  });
  return { element, show };
}

/* The decisions and findings of this stage. */
function beside(order) {
  const ofStage = (one) => OF_THIS_STAGE.includes(one.code.split("/")[0]);
  const plan = order.data.plan_document;
  const made = h("div", {});
  import("./decisions.js").then((module) => made.append(module.decisions(order, plan.decisions.filter(ofStage)))).catch(() => null);
  const found = plan.findings.filter(ofStage);
  return [made, found.length ? h("div", {}, h("h3", {}, "Findings on the beam order"), findings(found)) : null];
}

/* Plays one sheet, or two ways of one sheet, on one clock. */
class Player {
  constructor(order, sheets) {
    this.order = order;
    this.clock = new Clock();
    this.views = [];
    this.heardPlaying = false;
    this.pictures = h("div", { class: "play-pictures" });
    this.detail = h("div", { class: "play-detail" });
    this.key = h("div", {});
    this.compared = h("div", { class: "play-compared" });
    this.number = h("select", { onchange: () => this.choose(Number(this.number.value)).catch((error) => fill(this.detail, problem(error))) },
      sheets.map((one) => h("option", { value: one.number }, `Sheet ${one.number}, ${moment(one.time_s)}`)));
    this.transport = transport(this.clock, { words: () => this.words(), step: (forwards) => this.step(forwards), said: () => this.said() });
    this.trial = whatIf(order, { ready: (state) => this.compare(state), gone: () => this.alone() });
    this.clock.on((clock, why) => this.heard(why));
    this.element = h("div", { class: "play", "data-help": "sequence/playing" },
      h("div", { class: "row" }, h("label", {}, h("span", {}, "Sheet"), this.number), looks((look) => this.look(look))),
      this.pictures, h("div", { class: "row play-under" }, this.zoomRow(), this.key), this.transport.element, this.detail, this.compared, this.trial.element);
  }

  zoomRow() {
    const button = (words, name, go) => h("button", { type: "button", "aria-label": name, onclick: () => this.views.forEach(go) }, words);
    return h("div", { class: "play-zoom no-print", role: "group", "aria-label": "Size of the picture" },
      button("−", "Smaller", (view) => view.sight.zoom(1 / 1.4)), button("+", "Larger", (view) => view.sight.zoom(1.4)),
      button("Show all", "Show all", (view) => view.sight.whole()));
  }

  async choose(number) {
    this.wanted = number;
    const one = await loaded(this.order.path, number);
    if (this.wanted !== number) return;
    this.shown = { number, one };
    this.clock.pause();
    this.set([[one, `Sheet ${number}`]]);
    this.clock.seek(one.moves.total_s);
    this.clock.setSpeed(fitting(one.moves.total_s));
    this.trial.show(one.playback);
    fill(this.detail, h("p", { class: "soft" }, "Point at a line, or step from stroke to stroke, to see what it is."));
    if (this.tried) await this.compare(this.tried);
  }

  set(ways) {
    const look = this.views[0]?.look ?? {};
    for (const view of this.views) view.close();
    this.views = ways.map(([one, name]) => new SheetView(one, {
      name, draw, told: (move) => this.tell(one, move), chosen: (move) => this.go(one, move),
    }));
    fill(this.pictures, this.views.map((view, number) => h("figure", {}, view.stage, h("figcaption", {}, ways[number][1]))));
    for (const view of this.views) view.setLook(look);
    this.clock.span(Math.max(...ways.map(([one]) => one.moves.total_s)));
    this.transport.span(ways.map(([one]) => one.playback));
    fill(this.key, key(this.views[0]));
  }

  look(look) {
    for (const view of this.views) view.setLook(look);
    fill(this.key, key(this.views[0]));
  }

  heard(why) {
    if (why !== "state") for (const view of this.views) view.show(this.clock.time_s);
    if (this.clock.playing === this.heardPlaying) return;
    this.heardPlaying = this.clock.playing;
    say(this.clock.playing ? "Playing." : `Paused at ${this.words()}`);
  }

  words() {
    if (!this.views.length) return "";
    const { time_s } = this.clock;
    const told = this.views.map(({ playback, moves }) => position(playback, moves, Math.min(time_s, moves.total_s)));
    const free = freed(this.views[0].playback, time_s);
    return this.views.length > 1 ? `As planned ${told[0]}. Otherwise ${told[1]}.` : [told[0], free].filter(Boolean).join(". ");
  }

  step(forwards) {
    const { moves } = this.views[0];
    if (forwards && this.clock.time_s >= this.clock.total_s) this.clock.seek(0);
    this.clock.seek(moves.stroke_s(this.clock.time_s, forwards));
    const move = moves.over(this.clock.time_s);
    this.views[0].point(move < moves.count ? move : -1);
  }

  said() {
    const { playback, moves } = this.views[0];
    const move = moves.over(this.clock.time_s);
    return move < moves.count ? sentence(about(playback, moves, move)) : "Finished.";
  }

  tell({ playback, moves }, move) {
    if (move >= 0) fill(this.detail, facts(about(playback, moves, move)));
  }

  go({ playback, moves }, move) {
    if (move < 0) return;
    const told = about(playback, moves, move);
    fill(this.detail, facts(told), h("button", { type: "button", onclick: () => {
      this.clock.pause();
      this.clock.seek(moves.end_s[move]);
    } }, "Go to this moment"));
    say(sentence(told));
  }

  async compare(state) {
    this.tried = state;
    const { number, one } = this.shown;
    const planned_s = this.order.data.plan_document.totals.time_s;
    const tried_s = state.sheets.reduce((sum, sheet) => sum + sheet.time_s, 0);
    const whole = `Whole order: ${moment(planned_s)} as planned, ${moment(tried_s)} otherwise. ${compared(planned_s, tried_s)}`;
    if (!state.sheets.some((sheet) => sheet.number === number)) {
      fill(this.compared, h("p", {}, "The way tried has no such sheet."), h("p", {}, whole));
      return;
    }
    const other = await loaded(`${this.order.path}/what-if`, number);
    this.set([[one, "As planned"], [other, `The way tried: ${wordsOf(this.order.data.order, one.playback, state.changes)}`]]);
    fill(this.compared, h("p", {}, `This sheet: ${moment(one.moves.total_s)} as planned, ${moment(other.moves.total_s)} otherwise. `,
      compared(one.moves.total_s, other.moves.total_s)), h("p", {}, whole),
    alike(one.playback, other.playback) ? null : h("p", { class: "soft" }, "The parts lie differently, as places were searched for anew; some of the difference may come from that."));
  }

  alone() {
    if (!this.tried) return;
    this.tried = null;
    fill(this.compared);
    const { number, one } = this.shown;
    this.set([[one, `Sheet ${number}`]]);
  }

  close() {
    this.clock.pause();
    for (const view of this.views) view.close();
    if (this.tried) this.trial.putAway().catch(() => null);
  }
}
