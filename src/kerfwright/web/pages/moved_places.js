/* Where what stood at a place in the order's lists stands after others were taken out or added. */

import { Problem } from "./api.js";

/* Moves that changes make once they are made, the order being as it is before them:
   {list: ["items"], taken: 1} or {list: ["items"], added: 3}. */
export function movesOf(changes, order) {
  return changes.flatMap(({ at, value }) => {
    const list = at.slice(0, -1);
    const last = at.at(-1);
    if (typeof last !== "number") return [];
    if (value === null) return [{ list, taken: last }];
    return last >= lengthOf(list, order) ? [{ list, added: last }] : [];
  });
}

/* The place after all moves; null if what stood there was taken out. */
export function followed(at, moves) {
  let place = at;
  for (const move of moves) {
    place = after(place, move);
    if (place === null) return null;
  }
  return place;
}

/* Changes to where their places are now. What is to be taken out and is gone already needs no change. */
export function changesNow(changes, now) {
  return changes.flatMap(({ at, value }) => {
    const place = now(at);
    if (place === null && value === null) return [];
    return [{ at: place ?? gone(), value }];
  });
}

export function gone() {
  throw new Problem({ thing: "What this was for was taken out of the order just before.", remedy: "Bring that back first, or leave it." }, 0);
}

function after(place, { list, taken, added }) {
  const depth = list.length;
  const number = place[depth];
  if (typeof number !== "number" || !list.every((step, n) => step === place[n])) return place;
  if (number === taken) return null;
  const by = number > taken ? -1 : number >= added ? 1 : 0;
  return by ? place.map((step, n) => (n === depth ? number + by : step)) : place;
}

function lengthOf(list, order) {
  return list.reduce((place, step) => place?.[step], order)?.length ?? 0;
}
