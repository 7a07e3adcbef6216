// In a `data-part-views` box: shows a part another way, or rolled by another quarter turn, without leaving the page. Every
// picture is fetched ahead and kept, so that a tablet without network still turns the part.
const kept = new Map();

function fetched(address) {
  if (!kept.has(address)) {
    const text = fetch(address).then((answer) => (answer.ok ? answer.text() : Promise.reject(new Error(answer.status))));
    kept.set(address, text);
    text.catch(() => kept.delete(address));
  }
  return kept.get(address);
}

function nameOf(box) {
  const names = box.dataset.names.split(" ");
  const name = box.dataset.view === "slanted" ? `slanted-${90 * Number(box.dataset.quarters)}` : box.dataset.view;
  return names.includes(name) ? name : names[0];
}

// Draws what `data-base`, `data-view` and `data-quarters` say by now.
export async function draw(box) {
  const name = nameOf(box);
  const ways = new Set(box.dataset.names.split(" ").map((each) => each.split("-")[0]));
  for (const link of box.querySelectorAll("[data-show]")) {
    link.hidden = !ways.has(link.dataset.show);
    if (link.dataset.show === name.split("-")[0]) link.setAttribute("aria-current", "true");
    else link.removeAttribute("aria-current");
  }
  const keys = box.querySelector("[data-roll-keys]");
  if (keys) {
    keys.hidden = !name.startsWith("slanted");
    box.querySelector("[data-rolled]").textContent = String(90 * Number(box.dataset.quarters));
  }
  const frame = box.querySelector("[data-view-frame]");
  const asked = `${box.dataset.base}${name}.svg`;
  box.dataset.asked = asked;
  try {
    const text = await fetched(asked);
    // Another one may have been chosen meanwhile.
    if (box.dataset.asked !== asked) return;
    const svg = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    frame.replaceChildren(document.importNode(svg, true));
  } catch {
    if (box.dataset.asked === asked) frame.textContent = "The server does not answer; this picture comes when it does. Touch again.";
  }
}

// Fetches every picture under the address, one after the other, so as not to hold up anything else.
export async function fetchAhead(base, names) {
  for (const name of names) await fetched(`${base}${name}.svg`).catch(() => {});
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-show], [data-roll]");
  const box = link?.closest("[data-part-views]");
  if (!box || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  if (link.dataset.show) box.dataset.view = link.dataset.show;
  else box.dataset.quarters = (Number(box.dataset.quarters) + Number(link.dataset.roll) + 4) % 4;
  draw(box);
});
for (const box of document.querySelectorAll("[data-part-views]")) fetchAhead(box.dataset.base, box.dataset.names.split(" "));
