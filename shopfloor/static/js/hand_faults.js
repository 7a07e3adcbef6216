// What is wrong with the pieces on a sheet, to be shown while they are moved. The server's checker has the last word.
import { keptAt, strips, tooManyKinds } from "./hand_rules.js";
import { apart, boxOf, distance, edgeDistance, isIn, shapeOf } from "./hand_shapes.js";

export class Rules {
  // `board` is what the server gave: sheet, gap_mm, margin_mm, sides_mm, most_kinds, slack_mm, may_mirror, parts.
  constructor(board) {
    this.board = board;
    this.kept = keptAt(board);
    this.sheet = { rings: [board.sheet], box: boxOf(board.sheet) };
    this.isPlain = board.sheet.length === 4 && board.sheet.every(([x, y]) => {
      const [l, b, r, t] = this.sheet.box;
      return (x === l || x === r) && (y === b || y === t);
    });
    this.shapes = new WeakMap();
    this.pairs = new WeakMap();
  }

  // Pieces are never changed, only replaced, so what was worked out for one holds as long as it is there.
  shape(piece) {
    if (!this.shapes.has(piece)) this.shapes.set(piece, shapeOf(this.board.parts[piece.piece], piece));
    return this.shapes.get(piece);
  }

  name(piece) {
    return this.board.parts[piece.piece].name;
  }

  // How far the flattened piece may reach beyond the true one.
  off(piece) {
    return this.board.parts[piece.piece].off_mm;
  }

  alone(piece) {
    const { margin_mm: margin, may_mirror: mayMirror } = this.board;
    const slack = this.board.slack_mm + this.off(piece);
    const turns = this.board.parts[piece.piece].turns_deg;
    const shape = this.shape(piece);
    const [l, b, r, t] = this.sheet.box;
    const found = [];
    const over = Math.max(l - shape.box[0], b - shape.box[1], shape.box[2] - r, shape.box[3] - t);
    if (over > slack || !this.isWithin(shape, slack)) found.push(`${this.name(piece)} leaves the sheet.`);
    else if (this.isPlain ? over > slack - margin : edgeDistance(shape, this.sheet, margin) < margin - slack) {
      found.push(`${this.name(piece)} is nearer to the edge than ${margin} mm.`);
    }
    if (!found.length) found.push(...strips(this.board, this.sheet.box, shape.box, this.name(piece), slack));
    const same = (turn) => Math.abs(((((piece.turn_deg - turn + 180) % 360) + 360) % 360) - 180) < 1e-6;
    if (turns !== "any" && !turns.some(same)) found.push(`${this.name(piece)} may not be turned like this.`);
    if (piece.mirrored && !mayMirror) found.push(`${this.name(piece)} may not be mirrored.`);
    return found;
  }

  isWithin(shape, slack) {
    if (this.isPlain) return true;
    const inside = (point) => isIn(point, this.sheet.rings)
      || edgeDistance({ rings: [[point, point]], box: boxOf([point]) }, this.sheet, 10 * slack) <= slack;
    return shape.rings[0].every(inside) && (this.board.margin_mm <= slack || edgeDistance(shape, this.sheet, 1) > 0);
  }

  // The fault of two pieces in words, or "".
  pair(a, b) {
    const gap = this.board.gap_mm;
    const slack = this.board.slack_mm + this.off(a) + this.off(b);
    const [one, two] = [this.shape(a), this.shape(b)];
    if (apart(one.box, two.box) >= Math.max(0, gap - slack)) return "";
    if (!this.pairs.has(a)) this.pairs.set(a, new WeakMap());
    const known = this.pairs.get(a);
    if (!known.has(b)) known.set(b, this.measured(a, b, one, two, gap, slack));
    return known.get(b);
  }

  measured(a, b, one, two, gap, slack) {
    const away = distance(one, two, Math.max(gap, slack));
    if (away < 0) return `${this.name(a)} and ${this.name(b)} overlap.`;
    if (away >= gap - slack) return "";
    return `${this.name(a)} and ${this.name(b)} are ${away.toFixed(1)} mm apart; the gap is ${gap} mm.`;
  }

  // { bad: set of pieces, words: [sentence, ...] } of all pieces.
  faults(pieces) {
    const bad = new Set();
    const words = tooManyKinds(this.board, pieces);
    pieces.forEach((a, i) => {
      const alone = this.alone(a);
      if (alone.length) bad.add(a);
      words.push(...alone);
      for (let k = i + 1; k < pieces.length; k += 1) {
        const pair = this.pair(a, pieces[k]);
        if (!pair) continue;
        bad.add(a).add(pieces[k]);
        words.push(pair);
      }
    });
    return { bad, words };
  }
}
