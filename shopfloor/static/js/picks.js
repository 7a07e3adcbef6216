// In a `data-picks` box, pieces on the picture and the table row of their part pick each other out.
function pick(box, numbers) {
  const wanted = new Set(numbers);
  for (const piece of box.querySelectorAll("[data-piece]")) piece.classList.toggle("picked", wanted.has(piece.dataset.piece));
  for (const row of box.querySelectorAll("[data-for-pieces]")) {
    const hit = row.dataset.forPieces.split(" ").some((number) => wanted.has(number));
    row.classList.toggle("picked", hit);
    if (hit) row.scrollIntoView({ block: "nearest" });
  }
}

function follow(event) {
  const hit = event.target.closest?.("[data-piece], [data-for-pieces]");
  const box = hit?.closest("[data-picks]");
  if (box) pick(box, hit.dataset.piece ? [hit.dataset.piece] : hit.dataset.forPieces.split(" "));
}

document.addEventListener("click", follow);
document.addEventListener("focusin", follow);
