// Flattened parts where a placement puts them, and how far apart two of them are. Millimetres, y upwards.
// A shape is { rings: [outer, ...holes], box: [left, bottom, right, top] }; a ring is a list of [x, y].

function turnVector(turn) {
  const quarter = turn / 90;
  if (Number.isInteger(quarter)) return [[1, 0], [0, 1], [-1, 0], [0, -1]][((quarter % 4) + 4) % 4];
  return [Math.cos((turn * Math.PI) / 180), Math.sin((turn * Math.PI) / 180)];
}

export function boxOf(ring) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of ring) {
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  }
  return box;
}

// A piece is { piece, x_mm, y_mm, turn_deg, mirrored }: mirrored in x first, then turned about the origin, then shifted.
export function shapeOf(part, piece) {
  const [cos, sin] = turnVector(piece.turn_deg);
  const flip = piece.mirrored ? -1 : 1;
  const put = ([x, y]) => [flip * x * cos - y * sin + piece.x_mm, flip * x * sin + y * cos + piece.y_mm];
  const rings = [part.outer, ...part.holes].map((ring) => ring.map(put));
  return { rings, box: boxOf(rings[0]) };
}

export const apart = (a, b) => Math.max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3]);

function edgesNear(rings, box, reach) {
  const found = [];
  for (const ring of rings) {
    let [x1, y1] = ring[ring.length - 1];
    for (const [x2, y2] of ring) {
      const edge = [Math.min(x1, x2), Math.min(y1, y2), Math.max(x1, x2), Math.max(y1, y2)];
      if (apart(edge, box) <= reach) found.push([x1, y1, x2, y2, edge]);
      [x1, y1] = [x2, y2];
    }
  }
  return found;
}

function fromPoint(x, y, [x1, y1, x2, y2]) {
  const [dx, dy] = [x2 - x1, y2 - y1];
  const long = dx * dx + dy * dy;
  const t = long ? Math.min(1, Math.max(0, ((x - x1) * dx + (y - y1) * dy) / long)) : 0;
  return Math.hypot(x - x1 - t * dx, y - y1 - t * dy);
}

const side = (x1, y1, x2, y2, x, y) => (x2 - x1) * (y - y1) - (y2 - y1) * (x - x1);

function cross(a, b) {
  const p = side(a[0], a[1], a[2], a[3], b[0], b[1]) * side(a[0], a[1], a[2], a[3], b[2], b[3]);
  const q = side(b[0], b[1], b[2], b[3], a[0], a[1]) * side(b[0], b[1], b[2], b[3], a[2], a[3]);
  return p < 0 && q < 0;
}

export function isIn([x, y], rings) {
  let inside = false;
  for (const ring of rings) {
    let [x1, y1] = ring[ring.length - 1];
    for (const [x2, y2] of ring) {
      if (y1 > y !== y2 > y && x < ((x2 - x1) * (y - y1)) / (y2 - y1) + x1) inside = !inside;
      [x1, y1] = [x2, y2];
    }
  }
  return inside;
}

// The least distance between the edges of two shapes, as far as it is under `reach` (else Infinity); 0 where they cross.
export function edgeDistance(a, b, reach) {
  const [ours, theirs] = [edgesNear(a.rings, b.box, reach), edgesNear(b.rings, a.box, reach)];
  let least = Infinity;
  for (const e of ours) {
    for (const f of theirs) {
      if (apart(e[4], f[4]) >= Math.min(least, reach)) continue;
      if (cross(e, f)) return 0;
      const d = Math.min(fromPoint(e[0], e[1], f), fromPoint(e[2], e[3], f), fromPoint(f[0], f[1], e), fromPoint(f[2], f[3], e));
      least = Math.min(least, d);
    }
  }
  return least < reach ? least : Infinity;
}

// As `edgeDistance`, and -1 where one lies in the metal of the other. A piece in another's hole is apart from it.
export function distance(a, b, reach) {
  if (apart(a.box, b.box) > reach) return Infinity;
  const least = edgeDistance(a, b, reach);
  if (least === 0) return -1;
  return isIn(a.rings[0][0], b.rings) || isIn(b.rings[0][0], a.rings) ? -1 : least;
}
