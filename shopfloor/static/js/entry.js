// Confirming waits until every line that was just changed is saved, and stays on the page where one was refused.
const AFTER_LINES = "form[data-after-lines]";
const busy = () => document.querySelector("form.line.htmx-request, .entry-side .htmx-request") !== null;
const refused = () => document.querySelector("form.line:has(.field-fault)");

function settled() {
  if (busy()) return;
  document.body.removeEventListener("htmx:afterSettle", settled);
  document.body.removeEventListener("htmx:afterRequest", settled);
  document.querySelector(AFTER_LINES)?.requestSubmit();
}

document.body.addEventListener("submit", (event) => {
  if (!event.target.matches(AFTER_LINES)) return;
  if (busy()) {
    event.preventDefault();
    document.body.addEventListener("htmx:afterSettle", settled);
    document.body.addEventListener("htmx:afterRequest", settled);
  } else if (refused()) {
    event.preventDefault();
    refused().scrollIntoView({ block: "center" });
    refused().querySelector("input:not([type=hidden])").focus();
  }
});
