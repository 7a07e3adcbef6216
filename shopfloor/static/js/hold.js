// A button with `data-hold` acts when it is kept pressed for a second: for what cannot be taken back. A finger, a mouse and
// a key hold it; a screen reader, which cannot hold, presses it as it is. Without this script it is a plain button.
const HOLD_MS = 900;
let held = null;
let timer = 0;
let isPressed = false;

function begin(button) {
  if (held) return;
  held = button;
  isPressed = true;
  button.classList.add("is-held");
  timer = setTimeout(() => {
    const full = held;
    end();
    full.dataset.full = "yes";
    full.click();
    delete full.dataset.full;
  }, HOLD_MS);
}

function end() {
  clearTimeout(timer);
  held?.classList.remove("is-held");
  held = null;
}

const button = (event) => event.target.closest?.("[data-hold]:not([disabled])");

document.addEventListener("pointerdown", (event) => button(event) && event.isPrimary && begin(button(event)));
["pointerup", "pointercancel"].forEach((name) => document.addEventListener(name, end));
document.addEventListener("contextmenu", (event) => button(event) && event.preventDefault());
document.addEventListener("keydown", (event) => {
  if (![" ", "Enter"].includes(event.key) || !button(event)) return;
  event.preventDefault();
  if (!event.repeat) begin(button(event));
});
document.addEventListener("keyup", end);
document.addEventListener(
  "click",
  (event) => {
    const pressed = button(event);
    if (!pressed || pressed.dataset.full) return;
    // A click without a press before it comes from a screen reader.
    const wasPressed = isPressed;
    isPressed = false;
    if (!wasPressed) return;
    event.preventDefault();
    event.stopPropagation();
    pressed.classList.add("is-short");
    setTimeout(() => pressed.classList.remove("is-short"), 2500);
  },
  true,
);
