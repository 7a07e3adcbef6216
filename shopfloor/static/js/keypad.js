// The PIN pad: its keys type into the field, so a finger, a keyboard and a scanner that types all end in the same place.
const pad = document.querySelector("[data-keypad]");
const field = document.getElementById(pad.dataset.keypad);
const dots = document.querySelector("[data-dots]");

function show() {
  dots.textContent = "●".repeat(field.value.length) || "– – – –";
}

// The tablet's own keyboard would hide the pad.
field.inputMode = "none";
field.classList.add("is-padded");
pad.hidden = dots.hidden = false;
pad.addEventListener("click", (event) => {
  const key = event.target.closest("[data-key]");
  if (!key) return;
  if (key.dataset.key === "back") field.value = field.value.slice(0, -1);
  else if (field.value.length < field.maxLength) field.value += key.dataset.key;
  show();
});
field.addEventListener("input", show);
document.addEventListener("keydown", (event) => {
  const isElsewhere = event.target !== field && !event.ctrlKey && !event.altKey && !event.metaKey;
  if (!isElsewhere) return;
  if (/^[0-9]$/.test(event.key)) field.focus();
  else if (event.key === "Backspace") field.focus();
  else if (event.key === "Enter" && !event.target.closest("button, a")) field.form.requestSubmit();
});
show();
field.focus();
