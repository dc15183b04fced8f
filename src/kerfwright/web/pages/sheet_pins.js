/* Pins as changes of the order file. A pin's sheet_number only says which pins share a sheet, so a new pin
   takes the number of those that are on its sheet already, and else one that no other sheet has. */

const round = (value) => Math.round(value * 1000) / 1000;

const pinsOf = (order, item) => order.data.order.items[item].pinned;

/* The pin in the order that a planned part was laid by: the nearest of those for the same part. */
function pinOf(order, sheet, part, [x0, y0]) {
  const pins = pinsOf(order, part.item).map((pin, index) => ({ pin, index })).filter(({ pin }) => pin.part === part.part + 1 && (pin.on_sheet ?? sheet.name) === sheet.name);
  const far = ({ pin }) => Math.hypot(pin.at_mm[0] - x0, pin.at_mm[1] - y0);
  return pins.sort((a, b) => far(a) - far(b))[0] ?? null;
}

const corner = (part) => part.rings[0].reduce(([x, y], [px, py]) => [Math.min(x, px), Math.min(y, py)], [Infinity, Infinity]);

function numberOf(order, sheets, sheet) {
  for (const part of sheet.parts) {
    const found = part.pinned && part.item !== null ? pinOf(order, sheet, part, corner(part)) : null;
    if (found) return found.pin.sheet_number;
  }
  const used = new Set(order.data.order.items.flatMap((item) => (item.material === sheet.material ? item.pinned : [])).filter((pin) => (pin.on_sheet ?? sheet.name) === sheet.name).map((pin) => pin.sheet_number));
  let number = sheets.filter((one) => one.material === sheet.material && one.name === sheet.name && one.number <= sheet.number).length;
  while (used.has(number)) number += 1;
  return number;
}

/* Changes that pin parts (by their numbers on the sheet) where they lie now. */
export function pinChanges(order, sheets, sheet, numbers, moving) {
  const number = numberOf(order, sheets, sheet);
  const added = new Map();
  return numbers.map((n) => {
    const part = sheet.parts[n];
    const [x, y] = moving.boxNow(n);
    const there = part.pinned ? pinOf(order, sheet, part, corner(part)) : null;
    const next = pinsOf(order, part.item).length + (added.get(part.item) ?? 0);
    if (!there) added.set(part.item, (added.get(part.item) ?? 0) + 1);
    return {
      at: ["items", part.item, "pinned", there ? there.index : next],
      value: { part: part.part + 1, at_mm: [round(x), round(y)], turn_deg: (part.turn_deg + moving.move(n).turn) % 360, on_sheet: sheet.name, sheet_number: number },
    };
  });
}

export function releaseChanges(order, sheets, sheet, n) {
  const part = sheet.parts[n];
  const there = pinOf(order, sheet, part, corner(part));
  return there ? [{ at: ["items", part.item, "pinned", there.index], value: null }] : [];
}
