// The page for work by hand on one sheet: buttons, keys and lists around the board, and saving it.
import { Board } from "./hand_board.js";
import { listenToKeys, ways } from "./hand_keys.js";
import { listen } from "./hand_pointer.js";
import { send } from "./hand_send.js";
import { View } from "./hand_view.js";

const page = document.querySelector("[data-hand]");
const given = JSON.parse(document.getElementById("board").textContent);
const find = (name) => page.querySelector(`[data-${name}]`);
const svg = find("sheet");
const several = find("several");
let view = null;
let isSaved = false;

const board = new Board(given, () => view && show());
view = new View(svg, board.rules);
listenToKeys(svg, board);
listen(svg, view, board, () => several.getAttribute("aria-pressed") === "true");

const isChanged = () => board.pieces.some((piece, k) => {
  const first = board.first[k];
  return !first || ["piece", "x_mm", "y_mm", "turn_deg", "mirrored"].some((name) => first[name] !== piece[name]);
}) || board.pieces.length !== board.first.length;
const copies = () => (page.querySelector("[name=one_copy]:checked")?.value === "1" ? 1 : given.copies);
const said = (words) => { find("said").textContent = words; };

function listed(list, rows, made) {
  list.replaceChildren(...rows.map(made));
}

function row(words, count, button) {
  const item = document.createElement("li");
  const [name, number] = [document.createElement("span"), document.createElement("strong")];
  name.textContent = words;
  number.textContent = count;
  item.append(name, number, ...(button ? [button] : []));
  return item;
}

// Held pieces can stay while the server lays out the rest of the nest around them, beside it, to be compared.
function showAgain() {
  const form = find("again");
  const held = board.pieces.flatMap((piece, k) => (piece.held ? [k + 1] : []));
  form.hidden = !held.length;
  form.elements.held.value = held.join(",");
  form.querySelector("button").disabled = isChanged();
  find("again-head").textContent = `${held.length} held in place`;
  find("again-hint").textContent = isChanged()
    ? "Save what you moved first: then the rest can be laid out again around what is held."
    : "All other pieces of this nest are laid out anew around them. You compare both and keep one.";
}

function show() {
  view.draw(board.pieces, { picked: board.picked, bad: board.wrong.bad });
  const chosen = board.chosen;
  const free = chosen.filter((piece) => !piece.held);
  find("chosen").textContent = chosen.length === 1 ? board.rules.name(chosen[0]) : chosen.length ? `${chosen.length} pieces` : "Touch a piece";
  const box = chosen.length === 1 ? board.rules.shape(chosen[0]).box : null;
  find("place").textContent = box ? `${box[0].toFixed(1)}, ${box[1].toFixed(1)} mm from the corner · turned ${chosen[0].turn_deg}°${chosen[0].held ? " · held" : ""}` : "Drag it, or pick several.";
  for (const button of page.querySelectorAll("[data-needs=free]")) button.disabled = !free.length;
  find("hold").disabled = !chosen.length;
  find("hold").textContent = chosen.length && chosen.every((piece) => piece.held) ? "Let go" : "Hold in place";
  find("array").querySelector("button").disabled = chosen.length !== 1;
  find("undo").disabled = !board.past.length;
  find("redo").disabled = !board.future.length;
  const keys = Object.keys(given.parts).filter((each) => board.left(each, copies()) > 0);
  listed(find("waiting"), keys, (each) => {
    const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Add" });
    button.setAttribute("aria-label", `Add ${given.parts[each].name}`);
    button.addEventListener("click", () => { board.add(each); svg.focus(); });
    return row(given.parts[each].name, board.left(each, copies()), button);
  });
  find("nothing-waits").hidden = keys.length > 0;
  showAgain();
  const { words } = board.wrong;
  find("faults-head").textContent = words.length ? `${words.length} ${words.length === 1 ? "fault" : "faults"}` : "No fault seen";
  page.classList.toggle("has-faults", words.length > 0);
  const counts = new Map();
  for (const each of words) counts.set(each, (counts.get(each) ?? 0) + 1);
  const told = ([each, count]) => Object.assign(document.createElement("li"), { textContent: count > 1 ? `${each} (${count} times)` : each });
  listed(find("faults"), [...counts].slice(0, 4), told);
  // Where the rules leave no gap, touching is right, and only the server can tell it from overlapping for certain.
  const isCertain = given.gap_mm > given.slack_mm;
  find("save").disabled = !isChanged() || (isCertain && words.length > 0);
}

page.addEventListener("click", (event) => {
  const name = event.target.closest("[data-do]")?.dataset.do;
  if (!name) return;
  const [verb, way] = name.split(":");
  if (verb === "turn") board.turn(Number(way));
  else if (verb === "push") board.push(ways[way]);
  else if (verb === "zoom") view.zoom(Number(way), svg.getBoundingClientRect().x + svg.clientWidth / 2, svg.getBoundingClientRect().y + svg.clientHeight / 2);
  else if (verb === "whole") view.show(view.whole);
  else if (verb === "several") several.setAttribute("aria-pressed", several.getAttribute("aria-pressed") !== "true");
  else if (verb === "save") save();
  else board[verb]();
});

find("array").addEventListener("submit", (event) => {
  event.preventDefault();
  const value = (name) => Number(event.target.elements[name].value);
  const plan = { rows: value("rows"), columns: value("columns"), gapX: value("gap_x"), gapY: value("gap_y") };
  const way = event.target.elements.way.value;
  Object.assign(plan, { right: way.includes("right"), up: way.includes("up") });
  const wanted = plan.rows * plan.columns - 1;
  const made = board.array(board.chosen[0], plan, copies());
  said(made < wanted ? `${made} set out; no more of this part waits.` : `${made} set out.`);
});
page.addEventListener("change", () => show());

async function save() {
  find("save").disabled = true;
  said("Checking and saving …");
  const pieces = board.pieces.map(({ id, held, ...piece }) => piece);
  const answer = await send(page.dataset.hand, page.dataset.csrf, { version: given.version, one_copy: copies() < given.copies, pieces });
  if (answer.next) {
    isSaved = true;
    location.assign(answer.next);
    return;
  }
  said(answer.message);
  find("save").disabled = false;
}

addEventListener("beforeunload", (event) => {
  if (isChanged() && !isSaved) event.preventDefault();
});
show();
