// Shows that something is under way: after 0.3 s that it is, after 10 s that it may be left. One element, `#busy`.
const note = document.getElementById("busy");
let waiting = 0;
let timers = [];

function show(text) {
  note.textContent = text;
  note.hidden = false;
}

function begin(event) {
  // A page that refreshes itself is not something a person waits for.
  if (event.detail?.elt?.matches?.("[data-quiet], [data-quiet] *")) return;
  if (waiting++ > 0) return;
  timers = [
    setTimeout(() => show("Working …"), 300),
    setTimeout(() => show("Still working. You may leave this page; nothing is lost."), 10000),
  ];
}

function end(event) {
  if (event.detail?.elt?.matches?.("[data-quiet], [data-quiet] *")) return;
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
