// A button with `data-print` opens the browser's print dialog.
document.querySelectorAll("[data-print]").forEach((button) => button.addEventListener("click", () => print()));
