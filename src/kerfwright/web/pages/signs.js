/* Places numbered signs so that none lies on another or on the place that it tells of. */

const RADIUS = 13;
const DISTANCES = [2, 2.8, 3.8, 5, 6.5, 8.5, 11, 14];
const DIRECTIONS = 16;

/* Middles of signs in px for anchors in px, within a picture of that size. */
export function placed(anchors, [width, height]) {
  const spots = [];
  for (const [n, anchor] of anchors.entries()) {
    let best = anchor;
    let least = Infinity;
    for (const distance of DISTANCES) {
      for (let turn = 0; turn < DIRECTIONS; turn += 1) {
        const angle = 2 * Math.PI * (turn + 0.5) / DIRECTIONS;
        const spot = [anchor[0] + distance * RADIUS * Math.cos(angle), anchor[1] + distance * RADIUS * Math.sin(angle)];
        const cost = distance + crowd(spot, spots, 2.15) * 1000 + crowd(spot, anchors, 1.3, n) * 6 + outside(spot, width, height);
        if (cost < least) [best, least] = [spot, cost];
      }
      // further away only costs more
      if (least < distance + 1) break;
    }
    spots.push(best);
  }
  return spots;
}

function crowd([x, y], others, radii, but = -1) {
  const apart = radii * RADIUS;
  return others.reduce((sum, [u, v], n) => sum + (n === but ? 0 : Math.max(0, 1 - Math.hypot(x - u, y - v) / apart)), 0);
}

function outside([x, y], width, height) {
  return 400 * [RADIUS - x, RADIUS - y, x + RADIUS - width, y + RADIUS - height].reduce((sum, over) => sum + Math.max(0, over), 0) / RADIUS;
}
