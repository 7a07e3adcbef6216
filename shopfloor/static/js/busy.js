// Shows that something is under way: after 0.3 s that it is, after 10 s that it may be left. One element, `#busy`.
const note = document.getElementById("busy");
let waiting = 0;
let timers = [];

function show(text) {
  note.textContent = text;
  note.hidden = false;
}

const isQuiet = (event) => event.detail?.elt?.matches?.("[data-quiet], [data-quiet] *");

function begin(event) {
  // A page that refreshes itself is not something a person waits for.
  if (isQuiet(event)) return;
  if (waiting++ > 0) return;
  timers = [
    setTimeout(() => show("Working …"), 300),
    setTimeout(() => show("Still working. You may leave this page; nothing is lost."), 10000),
  ];
}

function end(event) {
  if (isQuiet(event)) return;
  waiting = Math.max(0, waiting - 1);
  if (waiting) return;
  timers.forEach(clearTimeout);
  note.hidden = true;
}

if (note) {
  document.body.addEventListener("htmx:beforeRequest", begin);
  document.body.addEventListener("htmx:afterRequest", end);
  document.body.addEventListener("htmx:sendError", () => show("The server does not answer. What you typed is still here; try again."));
  document.body.addEventListener("htmx:responseError", () => show("A fault of the server. What you typed is still here; try again."));
}

// A page that is being loaded anew asks for no more news: each answer would break off the loading and begin it again.
let isLeaving = false;
document.body.addEventListener("htmx:beforeOnLoad", (event) => {
  isLeaving ||= event.detail.xhr.getResponseHeader("HX-Refresh") === "true";
});
document.body.addEventListener("htmx:beforeRequest", (event) => isLeaving && isQuiet(event) && event.preventDefault());
