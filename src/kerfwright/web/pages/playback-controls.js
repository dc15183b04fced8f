/* What the playing is steered by: play, speed, the time divided by process, and how lines are coloured. */

import { duration, fill, h, plain, s, say } from "./ui.js";
import { energy, moment } from "./playback-words.js";

const SPEEDS = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];
const WHOLE_S = 30;
const STEPS = 1000;
const WORDS_MS = 100;
const NARROW = 0.004;
const LABELLED = 0.09;

/* The speed at which a sheet is played in about half a minute. */
export function fitting(total_s) {
  return SPEEDS.findLast((one) => one <= total_s / WHOLE_S) ?? 1;
}

/* Play and speed, stepping and the scrubber; words() gives the position, step(forwards) goes to a stroke. */
export function transport(clock, { words, step, said }) {
  const play = h("button", { type: "button", class: "main play-button", onclick: () => (clock.playing ? clock.pause() : clock.play()) }, "Play");
  const speed = h("select", { onchange: () => clock.setSpeed(Number(speed.value)) }, SPEEDS.map((one) => h("option", { value: one }, `×${one}`)));
  const scrubber = h("input", { type: "range", min: 0, max: STEPS, step: 1, value: 0, "aria-label": "Time", class: "play-time", id: "play-time" });
  const position = h("p", { class: "play-position num-text" });
  const stretches = h("div", { class: "play-stretches", "aria-hidden": "true" });
  scrubber.addEventListener("input", () => {
    clock.pause();
    clock.seek((Number(scrubber.value) / STEPS) * clock.total_s);
  });
  const stepped = (forwards) => {
    clock.pause();
    step(forwards);
    say(said());
  };
  let worded = 0;
  const show = (why) => {
    scrubber.value = clock.total_s > 0 ? (clock.time_s / clock.total_s) * STEPS : 0;
    if (why === "time" && performance.now() - worded < WORDS_MS) return;
    worded = performance.now();
    const told = words();
    position.textContent = plain(told);
    scrubber.setAttribute("aria-valuetext", plain(told));
    if (why === "time") return;
    play.textContent = clock.playing ? "Pause" : "Play";
    speed.value = String(clock.speed);
  };
  clock.on((_, why) => show(why));
  const element = h("div", { class: "play-transport" },
    stretches, scrubber, position,
    h("div", { class: "row" }, play,
      h("button", { type: "button", onclick: () => stepped(false) }, "Previous stroke"),
      h("button", { type: "button", onclick: () => stepped(true) }, "Next stroke"),
      h("label", { class: "beside" }, h("span", {}, "Speed"), speed)));
  return {
    element,
    /* Shows the stretches of one or two sheets, over the length of the clock. */
    span(playbacks) {
      fill(stretches, playbacks.map((one) => strip(one, clock.total_s)));
      show("state");
    },
  };
}

function strip(playback, total_s) {
  const shown = merged(playback.stretches, total_s * NARROW);
  const boxes = shown.map((one) => {
    const share = (one.end_s - one.start_s) / total_s;
    const box = h("span", { class: "play-stretch", "data-process": one.process, title: `${one.process}, ${duration(one.end_s - one.start_s)}` },
      share > LABELLED ? one.process : "");
    box.style.setProperty("flex-basis", `${100 * share}%`);
    return box;
  });
  return h("div", { class: "play-strip" }, boxes);
}

/* Stretches too narrow to be seen go to the one before. */
function merged(stretches, least_s) {
  const out = [];
  for (const one of stretches) {
    const before = out.at(-1);
    if (before && (one.process === before.process || one.end_s - one.start_s < least_s)) before.end_s = one.end_s;
    else out.push({ ...one });
  }
  return out;
}

/* By what lines are coloured, and whether travel is seen. */
export function looks(change) {
  const by = h("select", { onchange: () => change({ by: by.value }) },
    [["process", "Process"], ["time", "Time"], ["energy", "Energy per mm"]].map(([value, words]) => h("option", { value }, words)));
  const travel = h("input", { type: "checkbox", checked: true, onchange: () => change({ travel: travel.checked }) });
  return h("div", { class: "row" },
    h("label", {}, h("span", {}, "Colour by"), by),
    h("label", { class: "beside" }, travel, h("span", {}, "Show travel")));
}

/* What the lines mean. */
export function key(view) {
  const { playback, moves, look } = view;
  const used = playback.processes.filter((one, code) => code > 0 && moves.process.includes(code));
  const items = look.by === "process" ? used.map((one) => [sample(one), one]) : [];
  if (look.travel) items.push([sample("travel"), "travel"]);
  const ramp = look.by === "process" ? null : scale(view);
  return h("div", { class: "play-key" }, ramp, items.length ? h("ul", {}, items.map(([line, words]) => h("li", {}, line, words))) : null);
}

function sample(process) {
  return s("svg", { viewBox: "0 0 36 12", width: 36, height: 12, class: "play-sample", "data-process": process, "aria-hidden": "true" },
    s("line", { x1: 0, x2: 36, y1: 6, y2: 6 }));
}

function scale(view) {
  const { low, high } = view.look.by === "energy" ? view.moves.energyShares() : { low: 0, high: view.moves.total_s };
  const words = view.look.by === "energy" ? energy : moment;
  const steps = view.playback.colours.light.length;
  const bars = (name) => s("svg", { viewBox: `0 0 ${steps} 1`, preserveAspectRatio: "none", class: `play-ramp ${name}`, "aria-hidden": "true" },
    view.playback.colours[name].map((colour, step) => s("rect", { x: step, y: 0, width: 1.05, height: 1, fill: colour })));
  return h("p", { class: "play-scale" }, h("span", {}, words(low)), bars("light"), bars("dark"), h("span", {}, words(high)));
}
