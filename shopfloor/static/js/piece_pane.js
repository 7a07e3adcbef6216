// Shows one piece of a bar by its own picture: the one touched on the bar's picture, or the next and the one before. All of
// them stand in a hidden list (`data-pieces`), so that it goes on without network.
import { draw, fetchAhead } from "./part_views.js";

const pane = document.querySelector("[data-piece-pane]");
const box = pane.querySelector("[data-part-views]");
const pieces = [...pane.querySelectorAll("[data-pieces] > li")];
let at = Math.max(0, pieces.findIndex((each) => each.dataset.title === pane.querySelector("[data-piece-title]").textContent));

function mark() {
  for (const piece of document.querySelectorAll(".zoomable [data-piece]")) {
    piece.classList.toggle("is-shown", piece.dataset.piece === pieces[at].dataset.number);
  }
}

function show(place) {
  at = (place + pieces.length) % pieces.length;
  const piece = pieces[at];
  pane.querySelector("[data-piece-title]").textContent = piece.dataset.title;
  pane.querySelector("[data-piece-for]").textContent = piece.dataset.for;
  const lies = [...piece.children].map((words) => Object.assign(document.createElement("li"), { textContent: words.textContent }));
  pane.querySelector("[data-piece-lies]").replaceChildren(...lies);
  Object.assign(box.dataset, { base: piece.dataset.base, names: piece.dataset.names });
  draw(box);
  mark();
}

document.addEventListener("click", (event) => {
  const step = event.target.closest("[data-piece-step]");
  if (!step) return;
  event.preventDefault();
  show(at + Number(step.dataset.pieceStep));
});
document.addEventListener("piece:touched", (event) => {
  const place = pieces.findIndex((each) => Number(each.dataset.number) === event.detail);
  if (place >= 0) show(place);
});
mark();
for (const base of new Set(pieces.map((each) => each.dataset.base))) {
  fetchAhead(base, pieces.find((each) => each.dataset.base === base).dataset.names.split(" "));
}
