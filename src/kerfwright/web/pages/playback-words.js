/* What a moment or a move of a sheet is, in words. */

import { duration } from "./ui.js";
import { RUN_UP, TRAVEL } from "./playback-moves.js";

const round = (value) => Number(value.toPrecision(value >= 100 ? 3 : 2));

/* A time to a tenth of a second, as a position needs it. */
export function moment(seconds) {
  if (seconds < 60) return `${seconds.toFixed(1)} s`;
  return duration(seconds);
}

export function energy(j_mm) {
  return j_mm >= 0.1 ? `${round(j_mm)} J/mm` : `${round(1000 * j_mm)} mJ/mm`;
}

/* What a move is of: "tokens, token 7". */
export function origin(playback, source) {
  const one = playback.sources[source];
  if (!one) return "";
  const many = playback.sources.some((other) => other.part === one.part && other.copy_number > 1);
  const part = many ? `${one.part}, copy ${one.copy_number}` : one.part;
  return one.item && one.item !== one.part ? `${one.item}: ${part}` : part;
}

export function doing(playback, moves, move) {
  if (move >= moves.count) return "finished";
  if (moves.kind[move] === TRAVEL) return "travel";
  if (moves.kind[move] === RUN_UP) return "run-up";
  return playback.processes[moves.process[move]];
}

/* Facts of a move: [[name, value], …]; speed is the highest on it. */
export function about(playback, moves, move) {
  const of = origin(playback, moves.source[move]);
  const shapes = playback.sources[moves.source[move]]?.shapes ?? [];
  const more = playback.sources[moves.source[move]]?.shapes_more ?? 0;
  const share = moves.power[move] / 65535;
  const burns = moves.burns(move);
  return [
    ["Process", doing(playback, moves, move)],
    of ? ["Part", of] : null,
    shapes.length ? ["Shape", shapes.join(", ") + (more ? ` and ${more} more` : "")] : null,
    ["Speed", `${round(moves.top_mm_s[move])} mm/s`],
    burns ? ["Power", `${round(100 * share)} % (${round(share * playback.power_w)} W)`] : null,
    burns ? ["Energy", energy(moves.energy_j_mm[move])] : null,
    ["Time", `${moment(moves.begin_s(move))} to ${moment(moves.end_s[move])}`],
  ].filter(Boolean);
}

export const sentence = (facts) => facts.map(([name, value]) => (name === "Process" ? value : `${name.toLowerCase()} ${value}`)).join("; ");

/* Where the playing stands: "2 min 10 s of 14 min 05 s: cut, tokens: token 7". */
export function position(playback, moves, time_s) {
  const beam = moves.at(time_s);
  const of = beam.move < moves.count ? origin(playback, moves.source[beam.move]) : "";
  const what = doing(playback, moves, beam.move);
  return `${moment(time_s)} of ${moment(moves.total_s)}: ${what}${of ? `, ${of}` : ""}`;
}

/* How many parts are cut free, where any are to be. */
export function freed(playback, time_s) {
  const all = playback.parts.filter((part) => part.free_s !== null);
  const done = all.filter((part) => part.free_s <= time_s).length;
  const held = playback.parts.filter((part) => part.free_s === null && !part.blank).length;
  const words = all.length ? `${done} of ${all.length} ${all.length === 1 ? "part" : "parts"} cut free` : "";
  return [words, held ? `${held} held by tabs or not cut` : ""].filter(Boolean).join("; ");
}

/* How one time differs from another. */
export function compared(planned_s, tried_s) {
  const apart = tried_s - planned_s;
  if (Math.abs(apart) < 0.05) return "They take the same time.";
  const percent = planned_s > 0 ? Math.round((100 * Math.abs(apart)) / planned_s) : 0;
  const share = percent > 0 ? ` (${percent} %)` : "";
  return `The way tried is ${duration(Math.abs(apart))} ${apart > 0 ? "slower" : "faster"}${share}.`;
}

const APART_MM = 0.1;

/* Whether the parts of two playbacks lie in the same places, but for a hair. */
export function alike(one, other) {
  const corner = (part) => [Math.min(...part.rings[0].map(([x]) => x)), Math.min(...part.rings[0].map(([, y]) => y)), part.name];
  const others = other.parts.map(corner);
  return one.parts.length === other.parts.length && one.parts.map(corner).every(([x, y, name]) =>
    others.some(([ox, oy, of]) => of === name && Math.abs(x - ox) < APART_MM && Math.abs(y - oy) < APART_MM));
}
