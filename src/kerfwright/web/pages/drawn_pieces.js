/* Cuts long path data into pieces of the picture.

A browser draws in tiles, and goes through the whole of every path that reaches into one: a path of
a hundred thousand corners over the whole picture is gone through for every tile, a piece of it only
for the tiles it lies in. */

const CHARACTERS = 6000;
const MOST_ACROSS = 12;

/* Lists of subpaths that begin near each other; each begins with its own M x y, as the server
   writes it. [width, height] is the view's size. */
export function pieces(d, [width, height]) {
  const across = Math.min(Math.ceil(Math.sqrt(d.length / CHARACTERS)), MOST_ACROSS);
  if (across <= 1) return d ? [d] : [];
  const lines = d.split("M").slice(1).map((rest) => [`M${rest}`, ...beginning(rest)]);
  return near(lines, across, [width, height]);
}

/* The same for things that must stay whole: [path data, x, y] each. */
export function wholePieces(things, size) {
  const characters = things.reduce((sum, [d]) => sum + d.length, 0);
  return near(things, Math.min(Math.ceil(Math.sqrt(characters / CHARACTERS)), MOST_ACROSS), size);
}

function near(things, across, [width, height]) {
  const cells = new Map();
  const cell = (at, size) => Math.min(Math.max(Math.floor(at / size * across), 0), across - 1);
  for (const [d, x, y] of things) {
    const place = cell(y, height) * across + cell(x, width);
    if (cells.has(place)) cells.get(place).push(d);
    else cells.set(place, [d]);
  }
  return [...cells.values()].map((some) => some.join("")).filter(Boolean);
}

function beginning(rest) {
  const [x, y] = rest.slice(0, 40).match(/-?[\d.]+/g);
  return [Number(x), Number(y)];
}
