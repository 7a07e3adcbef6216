// Draws the sheet and its pieces as SVG, and enlarges and moves the view. Inside the drawing y runs upwards, as in the shop.
import { stripBoxes } from "./hand_rules.js";

const SVG = "http://www.w3.org/2000/svg";
const MOST = 40;

function made(name, values, parent) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(values)) element.setAttribute(key, value);
  parent?.append(element);
  return element;
}

const data = (rings) => rings.map((ring) => `M${ring.map((point) => point.join(" ")).join("L")}Z`).join("");
const sharp = { "vector-effect": "non-scaling-stroke", "stroke-linejoin": "round" };

export class View {
  constructor(svg, rules) {
    this.svg = svg;
    const [l, b, r, t] = rules.sheet.box;
    const room = Math.max(r - l, t - b) / 60;
    this.whole = { x: l - room, y: -t - room, w: r - l + 2 * room, h: t - b + 2 * room };
    this.up = made("g", { transform: "scale(1 -1)" }, svg);
    made("path", { class: "sheet", d: data(rules.sheet.rings), ...sharp }, this.up);
    const { margin_mm: m, parts } = rules.board;
    if (rules.isPlain && m) made("rect", { class: "margin", x: l + m, y: b + m, width: r - l - 2 * m, height: t - b - 2 * m, ...sharp }, this.up);
    for (const [left, lower, right, upper] of stripBoxes(rules.board, rules.sheet.box)) {
      made("rect", { class: "kept-free", x: left, y: lower, width: right - left, height: upper - lower, ...sharp }, this.up);
    }
    this.pieces = made("g", {}, this.up);
    this.drawn = Object.fromEntries(Object.entries(parts).map(([key, part]) => [key, data([part.outer, ...part.holes])]));
    this.outer = Object.fromEntries(Object.entries(parts).map(([key, part]) => [key, data([part.outer])]));
    this.tints = Object.fromEntries(Object.entries(parts).map(([key, part]) => [key, part.tint]));
    // Large parts first: a piece in the hole of another lies on top of it where it is touched.
    this.size = Object.fromEntries(Object.entries(parts).map(([key, part]) => [key, part.holes.length]));
    this.paths = new Map();
    this.show(this.whole);
  }

  draw(pieces, { picked, bad }) {
    const here = new Set(pieces.map((piece) => piece.id));
    for (const [id, group] of this.paths) {
      if (!here.has(id)) {
        group.remove();
        this.paths.delete(id);
      }
    }
    for (const piece of pieces) {
      const group = this.paths.get(piece.id) ?? this.added(piece);
      group.setAttribute("class", this.looks(piece, picked.has(piece.id), bad.has(piece)));
      const flip = piece.mirrored ? " scale(-1 1)" : "";
      group.setAttribute("transform", `translate(${piece.x_mm} ${piece.y_mm}) rotate(${piece.turn_deg})${flip}`);
    }
  }

  looks(piece, isPicked, isBad) {
    const words = [`piece k${this.tints[piece.piece]}`];
    if (isPicked) words.push("picked");
    if (isBad) words.push("is-bad");
    if (piece.held) words.push("is-held");
    return words.join(" ");
  }

  added(piece) {
    const group = made("g", { "data-id": piece.id });
    made("path", { d: this.drawn[piece.piece], "fill-rule": "evenodd", ...sharp }, group);
    made("path", { class: "touch", d: this.outer[piece.piece] }, group);
    if (this.size[piece.piece]) this.pieces.prepend(group);
    else this.pieces.append(group);
    this.paths.set(piece.id, group);
    return group;
  }

  show(next) {
    const w = Math.min(this.whole.w, Math.max(this.whole.w / MOST, next.w));
    const h = (w * this.whole.h) / this.whole.w;
    const held = (value, from, room, size) => Math.min(from + room - size, Math.max(from, value));
    this.box = { w, h, x: held(next.x, this.whole.x, this.whole.w, w), y: held(next.y, this.whole.y, this.whole.h, h) };
    this.svg.setAttribute("viewBox", `${this.box.x} ${this.box.y} ${w} ${h}`);
  }

  // Where a point of the screen lies on the sheet (y upwards), and how many millimetres one pixel shows.
  at(px, py) {
    const m = this.svg.getScreenCTM().inverse();
    return { x: m.a * px + m.e, y: -(m.d * py + m.f), unit: m.a };
  }

  zoom(by, px, py) {
    const to = this.at(px, py);
    const w = Math.min(this.whole.w, Math.max(this.whole.w / MOST, this.box.w / by));
    const k = w / this.box.w;
    this.show({ w, x: to.x - (to.x - this.box.x) * k, y: -to.y - (-to.y - this.box.y) * k });
  }

  pan(dxPx, dyPx) {
    const { unit } = this.at(0, 0);
    this.show({ ...this.box, x: this.box.x - dxPx * unit, y: this.box.y - dyPx * unit });
  }
}
