// What a person does with pieces: each verb takes pieces and gives new ones. Nothing here knows of the page.
import { apart, distance } from "./hand_shapes.js";

const round = (value) => Math.round(value * 1e4) / 1e4;
export const shifted = (piece, dx, dy) => ({ ...piece, x_mm: round(piece.x_mm + dx), y_mm: round(piece.y_mm + dy) });

export const joined = (boxes) => [0, 1, 2, 3].map((k) => (k < 2 ? Math.min : Math.max)(...boxes.map((box) => box[k])));

// The piece turned or mirrored where it lies: the middle of its extent stays.
function aboutMiddle(rules, piece, change) {
  const was = rules.shape(piece).box;
  const next = { ...piece, ...change };
  const is = rules.shape(next).box;
  return shifted(next, (was[0] + was[2] - is[0] - is[2]) / 2, (was[1] + was[3] - is[1] - is[3]) / 2);
}

// To the next allowed turn; a part that may be turned freely goes by 15 degrees.
export function turned(rules, piece, way) {
  const allowed = rules.board.parts[piece.piece].turns_deg;
  const now = ((piece.turn_deg % 360) + 360) % 360;
  if (allowed === "any") return aboutMiddle(rules, piece, { turn_deg: (((Math.round(now / 15) + way) * 15) % 360 + 360) % 360 });
  const turns = [...allowed].sort((a, b) => a - b);
  const near = turns.reduce((best, turn, k) => (Math.abs(turn - now) < Math.abs(turns[best] - now) ? k : best), 0);
  return aboutMiddle(rules, piece, { turn_deg: turns[(near + way + turns.length) % turns.length] });
}

export const mirrored = (rules, piece) => aboutMiddle(rules, piece, { mirrored: !piece.mirrored });

// The shift nearest to (dx, dy) that lays the moving pieces a gap from a neighbour, in line with it, or at the margin.
export function snapped(rules, moving, others, dx, dy, reach) {
  const { kept, board: { gap_mm: gap } } = rules;
  const box = joined(moving.map((piece) => rules.shape(piece).box));
  const at = [box[0] + dx, box[1] + dy, box[2] + dx, box[3] + dy];
  const sheet = rules.sheet.box;
  const best = [0, 0];
  const offer = (axis, by) => {
    if (Math.abs(by) < reach && (!best[axis] || Math.abs(by) < Math.abs(best[axis]))) best[axis] = by;
  };
  for (const axis of [0, 1]) {
    offer(axis, sheet[axis] + kept[axis] - at[axis]);
    offer(axis, sheet[axis + 2] - kept[axis + 2] - at[axis + 2]);
  }
  for (const other of others) {
    const near = rules.shape(other).box;
    if (apart(at, near) > gap + reach) continue;
    for (const axis of [0, 1]) {
      offer(axis, near[axis + 2] + gap - at[axis]);
      offer(axis, near[axis] - gap - at[axis + 2]);
      offer(axis, near[axis] - at[axis]);
      offer(axis, near[axis + 2] - at[axis + 2]);
    }
  }
  return [dx + best[0], dy + best[1]];
}

// How far the moving pieces can go one way until the first touches a neighbour at the gap, or the margin. They step by
// what is free around them, or by less than a gap along a neighbour, so they pass through nothing.
export function pushedBy(rules, moving, others, [ux, uy]) {
  const { kept, board: { gap_mm: gap, slack_mm: slack } } = rules;
  const box = joined(moving.map((piece) => rules.shape(piece).box));
  const sheet = rules.sheet.box;
  const edge = ux < 0 ? 0 : ux > 0 ? 2 : uy < 0 ? 1 : 3;
  const most = Math.max(0, Math.abs(sheet[edge] - box[edge]) - kept[edge]);
  const way = [box[0] + Math.min(0, ux * most), box[1] + Math.min(0, uy * most), box[2] + Math.max(0, ux * most), box[3] + Math.max(0, uy * most)];
  const ahead = others.map((other) => rules.shape(other)).filter((shape) => apart(shape.box, way) < gap);
  const freeAt = (gone) => {
    let free = most - gone;
    for (const piece of moving) {
      const shape = rules.shape(shifted(piece, ux * gone, uy * gone));
      for (const other of ahead) free = Math.min(free, distance(shape, other, Math.max(0, free) + gap) - gap);
    }
    return free;
  };
  let [gone, free] = [0, freeAt(0)];
  while (gone < most) {
    const step = Math.min(most - gone, Math.max(free, gap / 2, 0.5));
    const next = freeAt(gone + step);
    if (next < -slack / 2) {
      let [low, high] = [0, step];
      for (let k = 0; k < 24; k += 1) {
        const half = (low + high) / 2;
        if (freeAt(gone + half) < -slack / 2) high = half;
        else low = half;
      }
      return gone + low;
    }
    [gone, free] = [gone + step, next];
  }
  return gone;
}

// Copies of a piece in rows and columns, itself being the first; at most `most` further ones.
export function array(rules, piece, { rows, columns, gapX, gapY, right, up }, most) {
  const [l, b, r, t] = rules.shape(piece).box;
  const [stepX, stepY] = [(r - l + gapX) * (right ? 1 : -1), (t - b + gapY) * (up ? 1 : -1)];
  const made = [];
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      if ((row || column) && made.length < most) made.push({ ...shifted(piece, column * stepX, row * stepY), held: false });
    }
  }
  return made;
}

// Where a new piece lies without a fault, as near to the lower left as a corner of what lies there allows; else null.
export function freePlace(rules, piece, others) {
  const { kept, board: { gap_mm: gap } } = rules;
  const box = rules.shape(piece).box;
  const sheet = rules.sheet.box;
  const places = (axis) => [sheet[axis] + kept[axis], ...others.map((other) => rules.shape(other).box[axis + 2] + gap)]
    .filter((place) => place + box[axis + 2] - box[axis] <= sheet[axis + 2] - kept[axis + 2] + 1e-6);
  const unique = (values) => [...new Set(values.map(round))].sort((a, b) => a - b);
  const [xs, ys] = [unique(places(0)).slice(0, 150), unique(places(1)).slice(0, 150)];
  for (const x of xs) {
    for (const y of ys) {
      const tried = shifted(piece, x - box[0], y - box[1]);
      if (others.every((other) => !rules.pair(tried, other)) && !rules.alone(tried).length) return tried;
    }
  }
  return null;
}
