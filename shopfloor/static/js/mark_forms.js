// Takes over forms with `data-mark` (the mark in words): the mark is kept on the tablet first and then sent. Answered, the
// next page opens; refused, the sentence is shown; without an answer the mark waits and the page goes on as far as it
// can: `data-then` names a template with the next step.
import { keyOf, renewKey } from "./request_key.js";
import { me, send } from "./mark_send.js";
import * as store from "./mark_store.js";

const canKeep = await store.isThere();
const tablet = document.getElementById("tablet");

function say(text, kind) {
  const note = document.createElement("p");
  note.className = `notice ${kind}`;
  note.role = "status";
  note.textContent = text;
  document.getElementById("notice").replaceChildren(note);
}

// Nothing more can be done here: the page opens again by itself when the marks were sent (see mark_strip).
function wait(bench, isSignedOut) {
  document.body.dataset.waits = "yes";
  document.getElementById("words")?.toggleAttribute("inert", true);
  const says = document.createElement(isSignedOut ? "a" : "p");
  says.textContent = isSignedOut ? "Sign in again" : "Leave this page open: it goes on by itself when the server answers.";
  says.className = isSignedOut ? "button next" : "bench-says";
  if (isSignedOut) says.href = location.href;
  bench?.replaceChildren(says);
}

function goOn(form, isSignedOut) {
  const next = document.getElementById(form.dataset.then ?? "");
  const bench = document.querySelector(".bench");
  if (!next) return wait(bench, isSignedOut);
  const steps = next.content.cloneNode(true);
  bench.replaceChildren(...steps.querySelector("[data-for=bench]").childNodes);
  document.getElementById("words").replaceChildren(...steps.querySelector("[data-for=words]").childNodes);
}

async function take(form, button) {
  const data = new FormData(form, button);
  const mark = {
    key: keyOf(form),
    url: form.getAttribute("action"),
    body: new URLSearchParams([...data].filter(([name]) => name !== "csrfmiddlewaretoken")).toString(),
    words: form.dataset.mark,
    person: me(),
    personName: tablet?.dataset.personName ?? "",
    at: new Date().toISOString(),
  };
  mark.order = await store.add(mark);
  const said = (await send()).get(mark.key);
  if (said?.went) {
    location.assign(said.went);
    return;
  }
  renewKey(form);
  if (said?.refused) {
    // The person reads it here and now, so it need not stand in the list as well.
    await store.remove(mark);
    document.dispatchEvent(new CustomEvent("marks:changed"));
    say(said.refused, "notice-no");
    return;
  }
  const when = said?.signedOut ? "when you sign in again" : "as soon as the server answers";
  say(`“${form.dataset.mark}” is kept on this tablet and is sent ${when}.`, "notice-warn");
  const stays = !form.dispatchEvent(new CustomEvent("mark:kept", { bubbles: true, cancelable: true, detail: { data } }));
  if (!stays) goOn(form, Boolean(said?.signedOut));
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!canKeep || !form.matches("form[data-mark]")) return;
  event.preventDefault();
  if (form.dataset.busy) return;
  form.dataset.busy = "yes";
  const slow = setTimeout(() => document.body.classList.add("is-sending"), 300);
  try {
    await take(form, event.submitter);
  } catch {
    // The tablet cannot keep anything (its storage is full): the browser sends the form itself.
    form.submit();
  } finally {
    clearTimeout(slow);
    document.body.classList.remove("is-sending");
    delete form.dataset.busy;
  }
});
