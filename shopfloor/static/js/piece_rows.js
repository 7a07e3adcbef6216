// Ties the rows of pieces to the picture: touching a piece picks its row, touching a row picks its pieces. Draws pieces
// by where they stand, from `data-lost` and the like on the picture's own list and then on the rows, which know better.
const DRAWN = ["lost", "scrapped", "rework", "good", "broken_out", "left"];

const frame = () => document.querySelector("[data-zoom]");
export const rows = () => [...document.querySelectorAll("[data-row]")];
export const numbers = (row, name = "numbers") => (row.dataset[name] ?? "").split(" ").filter(Boolean).map(Number);
export const rowOf = (number) => rows().find((row) => numbers(row).includes(number));

export function pick(row) {
  for (const each of rows()) {
    const isIt = each === row;
    each.classList.toggle("is-picked", isIt);
    each.querySelector("[data-pick]")?.setAttribute("aria-pressed", String(isIt));
  }
  const picked = new Set(row ? numbers(row) : []);
  for (const piece of frame()?.querySelectorAll("[data-piece]") ?? []) {
    piece.classList.toggle("picked", picked.has(Number(piece.dataset.piece)));
  }
}

// Draws each listed piece by its state; pieces in no list stay plain.
export function draw() {
  const states = new Map();
  for (const list of [...document.querySelectorAll("[data-drawn]"), ...rows()]) {
    for (const state of DRAWN) numbers(list, state).forEach((number) => states.set(number, state));
  }
  for (const piece of frame()?.querySelectorAll("[data-piece]") ?? []) {
    const state = states.get(Number(piece.dataset.piece));
    DRAWN.forEach((each) => piece.classList.toggle(`is-${each}`, each === state));
  }
}

document.addEventListener("click", (event) => {
  const row = event.target.closest("[data-pick]")?.closest("[data-row]");
  if (row) pick(row.classList.contains("is-picked") ? null : row);
});
document.addEventListener("piece:touched", (event) => {
  const row = rowOf(event.detail);
  pick(row);
  // Beside the pane that shows the piece its row matters where pieces are counted or judged.
  if (!document.querySelector("[data-piece-pane]") || document.querySelector(".counting")) row?.scrollIntoView({ block: "nearest" });
});
draw();
