// Sends the kept marks to the server, one after the other in the order they were made. A mark leaves the tablet only
// when the server has said what became of it: done, or refused with a sentence. No answer leaves it where it is.
import * as store from "./mark_store.js";

const PATIENCE_MS = 10000;
const MOST_FAULTS = 3;
let running = null;

export const me = () => document.getElementById("tablet")?.dataset.person ?? "";

function token() {
  return document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";
}

// What the server said of one mark: {went}, {refused}, {faulty}, or {silent}, with `signedOut` where nobody is signed in.
async function post(mark) {
  let answer;
  try {
    answer = await fetch(mark.url, {
      method: "POST",
      body: mark.body,
      redirect: "manual",
      signal: AbortSignal.timeout(PATIENCE_MS),
      headers: { "Content-Type": "application/x-www-form-urlencoded", "X-CSRFToken": token(), "HX-Request": "true" },
    });
  } catch {
    return { silent: true };
  }
  // Only our own answer names the next page; a redirect is the sign-in page of a session that has ended.
  if (answer.type === "opaqueredirect") return { silent: true, signedOut: true };
  if (answer.status === 200 && answer.headers.has("HX-Redirect")) return { went: answer.headers.get("HX-Redirect") };
  if (answer.status === 500) return { faulty: true };
  if (answer.status < 400 || answer.status > 499) return { silent: true };
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const sentence = page.querySelector(".notice, main p")?.textContent.replace(/\s+/g, " ").trim();
  return { refused: sentence || `The server did not accept it (${answer.status}).` };
}

async function sendAll(results) {
  const waiting = (await store.all()).filter((mark) => !mark.refused && mark.person === me());
  for (const mark of waiting) {
    const said = await post(mark);
    results.set(mark.key, said);
    if (said.silent) return results;
    if (said.faulty && (mark.tries ?? 0) + 1 < MOST_FAULTS) {
      await store.change({ ...mark, tries: (mark.tries ?? 0) + 1 });
      return results;
    }
    if (said.faulty) said.refused = "The server had a fault with this mark, three times. Tell whoever looks after it.";
    if (said.refused) await store.change({ ...mark, refused: said.refused });
    else await store.remove(mark);
  }
  return results;
}

// What became of each mark that was tried, by its key. Two callers never send at the same time.
export function send() {
  running = (running ?? Promise.resolve()).then(() => sendAll(new Map()), () => sendAll(new Map()));
  return running.finally(() => document.dispatchEvent(new CustomEvent("marks:changed")));
}
