// Says on top of the page how many marks wait for the server and how many it did not accept, and lists both. Tries to
// send again every few seconds while something waits, and when the network comes back.
import { me, send } from "./mark_send.js";
import * as store from "./mark_store.js";

const AGAIN_MS = 4000;
const strip = document.getElementById("marks-open");
const over = document.getElementById("marks");
const list = document.getElementById("marks-list");

const count = (n, one, many) => `${n} mark${n === 1 ? ` ${one}` : `s ${many}`}`;

function item(mark) {
  const row = document.createElement("div");
  row.className = "mark-row";
  const words = document.createElement("p");
  const at = new Date(mark.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  words.textContent = `${mark.words} (${mark.personName}, ${at}). `;
  const why = document.createElement("strong");
  const mine = mark.person === me();
  why.textContent = mark.refused ?? (mine ? "Waits for the server." : `Is sent when ${mark.personName} signs in here.`);
  words.append(why);
  row.append(words);
  if (mark.refused) {
    const away = document.createElement("button");
    away.type = "button";
    away.dataset.hold = "";
    const label = document.createElement("span");
    label.textContent = "Take off the list";
    away.append(label);
    away.addEventListener("click", () => store.remove(mark).then(show));
    row.append(away);
  }
  return row;
}

async function show() {
  const marks = await store.all().catch(() => []);
  const refused = marks.filter((mark) => mark.refused);
  const waiting = marks.length - refused.length;
  const says = [];
  if (waiting) says.push(`${count(waiting, "waits", "wait")} for the server`);
  if (refused.length) says.push(`${count(refused.length, "was", "were")} not accepted`);
  strip.hidden = !says.length;
  strip.textContent = says.join(", ");
  strip.classList.toggle("is-refused", refused.length > 0);
  list.replaceChildren(...marks.map(item));
  if (!marks.length && over.open) over.close();
  return marks.some((mark) => !mark.refused && mark.person === me());
}

async function tend() {
  if (!(await show())) return;
  const went = [...(await send()).values()].map((said) => said.went).filter(Boolean);
  if (went.length && document.body.dataset.waits) location.assign(went.at(-1));
}

strip.addEventListener("click", () => over.showModal());
document.addEventListener("click", (event) => event.target.closest("dialog [data-close]")?.closest("dialog").close());
document.addEventListener("marks:changed", show);
addEventListener("online", tend);
setInterval(tend, AGAIN_MS);
tend();
