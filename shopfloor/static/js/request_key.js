// Gives every form that carries a request key one that is made here, so that a form sent twice counts once. The key
// stays the same until the form's request was answered or kept; only then does the form begin a new one.
const keys = new WeakMap();

export function freshKey() {
  // Not crypto.randomUUID: browsers have that on secure pages only, and a tablet in the shop may use plain http.
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = [...b].map((x) => x.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}

export function keyOf(form) {
  if (!keys.has(form)) keys.set(form, freshKey());
  return keys.get(form);
}

export function renewKey(form) {
  keys.delete(form);
}

document.addEventListener("formdata", (event) => {
  if (event.formData.has("key")) event.formData.set("key", keyOf(event.target));
});
// A page that comes back through the back button is a new intention.
addEventListener("pageshow", (event) => {
  if (event.persisted) document.querySelectorAll("form").forEach(renewKey);
});
