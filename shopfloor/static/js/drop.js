// Files dropped anywhere on a `data-drop` box go into its file field; with `data-drop-sends` the form is sent at once.
for (const box of document.querySelectorAll("[data-drop]")) {
  const field = box.querySelector("input[type=file]");
  const said = box.querySelector("[data-drop-said]");

  const tell = () => {
    const n = field.files.length;
    said.textContent = n ? `${n} file${n > 1 ? "s" : ""}: ${[...field.files].slice(0, 6).map((f) => f.name).join(", ")}${n > 6 ? " …" : ""}` : "";
  };
  const send = () => {
    tell();
    if (box.hasAttribute("data-drop-sends") && field.files.length) box.requestSubmit();
  };

  box.addEventListener("dragover", (event) => {
    event.preventDefault();
    box.classList.add("drop-over");
  });
  box.addEventListener("dragleave", () => box.classList.remove("drop-over"));
  box.addEventListener("drop", (event) => {
    event.preventDefault();
    box.classList.remove("drop-over");
    field.files = event.dataTransfer.files;
    send();
  });
  field.addEventListener("change", send);
  box.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.elt === box && event.detail.successful) {
      field.value = "";
      tell();
    }
  });
}
