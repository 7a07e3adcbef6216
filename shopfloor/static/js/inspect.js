// Judges pieces: all good but those touched. A touched piece is asked about in a dialog: scrap or rework, and why. Each
// row keeps its verdicts in `data-bad` as "number:state:reason"; what is sent names every piece by number.
import { draw, numbers, rowOf, rows } from "./piece_rows.js";

const form = document.querySelector("[data-inspect]");
const over = document.getElementById("verdict");
const wordsOf = (reason) => over.querySelector(`[data-reason="${reason}"]`).textContent;
let asked = null;

const bad = (row) => (row.dataset.bad ?? "").split(" ").filter(Boolean).map((text) => text.split(":"));
const isLater = (row) => row.querySelector("[data-later]").checked;
const goodOnes = (row) => numbers(row).filter((number) => !bad(row).some(([each]) => Number(each) === number));

function chip(row, [number, state, reason]) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "bad-chip";
  button.append(over.querySelector(`input[value=${state}] + span .state`).cloneNode(true), `· piece ${number}: ${wordsOf(reason)}`);
  button.addEventListener("click", () => ask(row, Number(number)));
  return button;
}

function show() {
  const total = { good: 0, scrapped: 0, rework: 0 };
  for (const row of rows()) {
    const verdicts = isLater(row) ? [] : bad(row);
    row.querySelector("[data-good-count]").textContent = isLater(row) ? "–" : goodOnes(row).length;
    row.classList.toggle("is-later", isLater(row));
    row.querySelector("[data-not-good]").disabled = isLater(row) || !goodOnes(row).length;
    for (const state of ["scrapped", "rework"]) {
      const these = verdicts.filter(([, each]) => each === state);
      row.dataset[state] = these.map(([number]) => number).join(" ");
      total[state] += these.length;
    }
    total.good += isLater(row) ? 0 : goodOnes(row).length;
    const list = row.querySelector("[data-bad-list]");
    list.hidden = !verdicts.length;
    list.replaceChildren(...verdicts.map((verdict) => chip(row, verdict)));
  }
  const says = [total.scrapped && `${total.scrapped} scrap`, total.rework && `${total.rework} rework`].filter(Boolean);
  const button = document.querySelector("[data-total]");
  button.textContent = says.length ? `Confirm ${total.good} good, ${says.join(", ")}` : `All ${total.good} good`;
  button.disabled = total.good + total.scrapped + total.rework === 0;
  draw();
}

function ask(row, number) {
  asked = { row, number };
  const [, state] = bad(row).find(([each]) => Number(each) === number) ?? [];
  over.querySelector("[data-verdict-piece]").textContent = `Piece ${number}, ${row.querySelector(".row-part").textContent}`;
  over.querySelectorAll("input[name=state]").forEach((input) => (input.checked = input.value === state));
  chosen();
  over.showModal();
}

function chosen() {
  const state = over.querySelector("input[name=state]:checked")?.value;
  over.querySelector(".reasons").hidden = !state;
  over.querySelector("[data-ask]").hidden = !state;
  return state;
}

function judge(state, reason) {
  const { row, number } = asked;
  const others = bad(row).filter(([each]) => Number(each) !== number);
  row.dataset.bad = [...others, ...(state ? [[number, state, reason]] : [])].map((each) => each.join(":")).join(" ");
  over.close();
  show();
}

over.addEventListener("change", chosen);
over.addEventListener("click", (event) => {
  const reason = event.target.closest("[data-reason]");
  if (reason) judge(chosen(), reason.dataset.reason);
  else if (event.target.closest("[data-is-good]")) judge(null);
});
form.addEventListener("change", show);
form.addEventListener("click", (event) => {
  const row = event.target.closest("[data-not-good]")?.closest("[data-row]");
  if (row) ask(row, goodOnes(row)[0]);
});
document.addEventListener("piece:touched", (event) => {
  const row = rowOf(event.detail);
  if (row && !isLater(row) && !document.body.dataset.waits) ask(row, event.detail);
});
form.addEventListener("formdata", (event) => {
  const judged = rows().filter((row) => !isLater(row));
  event.formData.set("good", judged.flatMap(goodOnes).join(" "));
  event.formData.delete("bad");
  judged.flatMap(bad).forEach((verdict) => event.formData.append("bad", verdict.join(":")));
});
show();
