// Counts what is out of the sheet or bar. Each row holds its pieces (`data-numbers`), those touched on the picture as not
// there (`data-lost`), and how many are out; the rest stay in for now. What is sent names every piece by number.
import { draw, numbers, pick, rowOf, rows } from "./piece_rows.js";

const form = () => document.querySelector("[data-break-out]");
const field = (row) => row.querySelector("[data-count]");
const counting = () => (form() ? rows().filter(field) : []);

// The pieces of a row, parted: lost ones are known, and of the others the first ones count as out; or just `one` of them.
function parted(row, one) {
  const all = numbers(row);
  if (one) return { lost: [], out: all.filter((each) => each === one), left: all.filter((each) => each !== one) };
  const lost = numbers(row, "lost");
  const there = all.filter((number) => !lost.includes(number));
  const out = Math.min(there.length, Math.max(0, Math.trunc(Number(field(row).value) || 0)));
  return { lost, out: there.slice(0, out), left: there.slice(out) };
}

function show() {
  let out = 0;
  let lost = 0;
  for (const row of counting()) {
    const part = parted(row);
    row.dataset.left = part.left.join(" ");
    field(row).max = part.out.length + part.left.length;
    const says = [];
    if (part.lost.length) says.push(`${part.lost.length} lost`);
    if (part.left.length) says.push(`${part.left.length} left for later`);
    const words = row.querySelector("[data-says]");
    Object.assign(words, { textContent: says.join(", "), hidden: !says.length });
    out += part.out.length;
    lost += part.lost.length;
  }
  const button = document.querySelector("[data-total]");
  if (button && form()) {
    button.textContent = `Confirm ${out} out${lost ? `, ${lost} lost` : ""}`;
    button.disabled = out + lost === 0;
  }
  // Of a bar the pieces may be counted one by one, as they come off: the next is the first that is still in.
  const one = document.querySelector("[data-one]");
  if (one && form()) {
    one.value = Math.min(...counting().flatMap((row) => parted(row).out.concat(parted(row).left)));
    Object.assign(one, { hidden: one.value === "Infinity", textContent: `Piece ${one.value} is out` });
  }
  draw();
}

function setCount(row, count) {
  const most = numbers(row).length - numbers(row, "lost").length;
  field(row).value = Math.min(most, Math.max(0, count));
  show();
}

document.addEventListener("click", (event) => {
  const step = event.target.closest("[data-step]");
  const row = step?.closest("[data-row]");
  if (row && form()) setCount(row, Number(field(row).value) + Number(step.dataset.step));
});
document.addEventListener("change", (event) => {
  if (event.target.matches("[data-count]")) setCount(event.target.closest("[data-row]"), Number(event.target.value) || 0);
});
document.addEventListener("piece:touched", (event) => {
  const row = form() && rowOf(event.detail);
  if (!row) return;
  const before = parted(row);
  const isLost = before.lost.includes(event.detail);
  const lost = isLost ? before.lost.filter((number) => number !== event.detail) : [...before.lost, event.detail];
  row.dataset.lost = lost.join(" ");
  // The counted ones stay counted: a piece that turns out lost was among those thought to be out.
  setCount(row, numbers(row).length - before.left.length - lost.length);
});
document.addEventListener("formdata", (event) => {
  if (event.target !== form() || event.formData.has("one")) return;
  const parts = counting().map((row) => parted(row));
  [...event.formData.keys()].filter((name) => name.startsWith("out_")).forEach((name) => event.formData.delete(name));
  event.formData.set("out", parts.flatMap((part) => part.out).join(" "));
  event.formData.set("lost", parts.flatMap((part) => part.lost).join(" "));
});
// Without an answer from the server the page goes on with the pieces that are still in.
document.addEventListener("mark:kept", (event) => {
  if (event.target !== form()) return;
  const drawn = document.querySelector("[data-drawn]").dataset;
  const one = Number(event.detail.data.get("one"));
  for (const row of counting()) {
    const { lost, out, left } = parted(row, one);
    drawn.lost = [drawn.lost, ...lost].join(" ");
    drawn.broken_out = [drawn.broken_out, ...out].join(" ");
    row.dataset.numbers = left.join(" ");
    row.dataset.lost = "";
    field(row).value = left.length;
    row.querySelector(".stepper-of").textContent = `of ${left.length}`;
    row.hidden = !left.length;
  }
  pick(null);
  show();
  if (counting().some((row) => !row.hidden)) event.preventDefault();
  else form().querySelector(".head").replaceChildren(Object.assign(document.createElement("h1"), { textContent: "Counted" }));
});
new MutationObserver(() => form() && show()).observe(document.getElementById("words"), { childList: true });
show();
