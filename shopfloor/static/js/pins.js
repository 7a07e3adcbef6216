// In a `data-pins` box, a numbered pin on the picture and its sentence in the list pick each other out.
function pick(box, number) {
  for (const row of box.querySelectorAll("[data-for-finding]")) row.classList.toggle("picked", row.dataset.forFinding === number);
  for (const pin of box.querySelectorAll("[data-finding]")) pin.classList.toggle("picked", pin.dataset.finding === number);
  box.querySelector(`[data-for-finding="${CSS.escape(number)}"]`)?.scrollIntoView({ block: "nearest" });
}

function follow(event) {
  const hit = event.target.closest?.("[data-finding], [data-for-finding]");
  const box = hit?.closest("[data-pins]");
  if (box) pick(box, hit.dataset.finding ?? hit.dataset.forFinding);
}

document.addEventListener("click", follow);
document.addEventListener("focusin", follow);
