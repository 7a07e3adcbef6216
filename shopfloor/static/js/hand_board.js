// The pieces on the sheet as a person has them now: what is picked, what is wrong, and every step taken, to be undone.
import { Rules } from "./hand_faults.js";
import { array, freePlace, mirrored, pushedBy, shifted, snapped, turned } from "./hand_moves.js";

export class Board {
  constructor(given, changed) {
    this.given = given;
    this.rules = new Rules(given);
    this.next = 1;
    this.picked = new Set();
    this.changed = changed;
    this.past = [];
    this.future = [];
    this.set(given.pieces.map((piece) => ({ ...piece, id: this.newId(), held: false })));
    this.first = this.pieces;
  }

  newId() {
    this.next += 1;
    return this.next - 1;
  }

  set(pieces) {
    this.pieces = pieces;
    const there = new Set(pieces.map((piece) => piece.id));
    for (const id of this.picked) if (!there.has(id)) this.picked.delete(id);
    this.wrong = this.rules.faults(pieces);
    this.changed();
  }

  get chosen() {
    return this.pieces.filter((piece) => this.picked.has(piece.id));
  }

  // How many of a part may still be added: what waits, and what was taken off by hand. Every copy of the sheet needs one.
  left(key, copies) {
    const count = (pieces) => pieces.filter((piece) => piece.piece === key).length;
    const waiting = this.given.waiting[key] ?? 0;
    return Math.floor((waiting + copies * (count(this.first) - count(this.pieces))) / copies);
  }

  keep(pieces) {
    this.past.push(this.pieces);
    this.future = [];
    this.set(pieces);
  }

  undo() {
    if (!this.past.length) return;
    this.future.push(this.pieces);
    this.set(this.past.pop());
  }

  redo() {
    if (!this.future.length) return;
    this.past.push(this.pieces);
    this.set(this.future.pop());
  }

  pick(id, { more = false } = {}) {
    if (!more) this.picked.clear();
    if (more && this.picked.has(id)) this.picked.delete(id);
    else if (id !== null) this.picked.add(id);
    this.changed();
  }

  // Changes each picked piece that is not held in place.
  change(how) {
    const free = new Set(this.chosen.filter((piece) => !piece.held));
    if (free.size) this.keep(this.pieces.map((piece) => (free.has(piece) ? how(piece) : piece)));
  }

  moving() {
    const moving = this.chosen.filter((piece) => !piece.held);
    return [moving, this.pieces.filter((piece) => !moving.includes(piece))];
  }

  // While they are dragged from where they lay in `from`: nothing is kept until `dropped`.
  drag(from, dx, dy, reach) {
    const moving = from.filter((piece) => this.picked.has(piece.id) && !piece.held);
    if (!moving.length) return;
    const [sx, sy] = snapped(this.rules, moving, from.filter((piece) => !moving.includes(piece)), dx, dy, reach);
    this.set(from.map((piece) => (moving.includes(piece) ? shifted(piece, sx, sy) : piece)));
  }

  dropped(from) {
    if (from === this.pieces) return;
    this.past.push(from);
    this.future = [];
    this.changed();
  }

  nudge = (dx, dy) => this.change((piece) => shifted(piece, dx, dy));
  turn = (way) => this.change((piece) => turned(this.rules, piece, way));
  mirror = () => this.change((piece) => mirrored(this.rules, piece));

  push(way) {
    const by = pushedBy(this.rules, ...this.moving(), way);
    if (by > 0) this.nudge(way[0] * by, way[1] * by);
  }

  takeOff() {
    const off = new Set(this.chosen.filter((piece) => !piece.held));
    if (off.size) this.keep(this.pieces.filter((piece) => !off.has(piece)));
  }

  hold() {
    const all = this.chosen.every((piece) => piece.held);
    const ids = new Set(this.picked);
    if (ids.size) this.keep(this.pieces.map((piece) => (ids.has(piece.id) ? { ...piece, held: !all } : piece)));
  }

  // A new piece where it has room, else in the middle of the sheet, where its faults are seen.
  add(key) {
    const turns = this.given.parts[key].turns_deg;
    const tried = (turns === "any" ? [0, 90] : turns).map((turn_deg) => ({ piece: key, x_mm: 0, y_mm: 0, turn_deg, mirrored: false, held: false, id: 0 }));
    let found = null;
    for (const piece of tried) found ??= freePlace(this.rules, piece, this.pieces);
    if (!found) {
      const [box, sheet] = [this.rules.shape(tried[0]).box, this.rules.sheet.box];
      found = shifted(tried[0], (sheet[0] + sheet[2] - box[0] - box[2]) / 2, (sheet[1] + sheet[3] - box[1] - box[3]) / 2);
    }
    const piece = { ...found, id: this.newId() };
    this.picked = new Set([piece.id]);
    this.keep([...this.pieces, piece]);
  }

  // Gives how many of the wanted copies were set out.
  array(piece, plan, copies) {
    const made = array(this.rules, piece, plan, this.left(piece.piece, copies)).map((each) => ({ ...each, id: this.newId() }));
    if (made.length) this.keep([...this.pieces, ...made]);
    return made.length;
  }
}
