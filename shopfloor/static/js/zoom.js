// Enlarges and moves a picture: two fingers, the wheel, or the buttons beside it; one finger moves it once it is enlarged.
// A touch that stays in place is told as "piece:touched" with the number of the piece under it.
const MOST = 40;
const STILL_PX = 10;

function start(frame) {
  const svg = frame.querySelector("svg");
  if (!svg) return;
  const whole = svg.viewBox.baseVal;
  const [x0, y0, w0, h0] = [whole.x, whole.y, whole.width, whole.height];
  const wholeButton = frame.parentElement.querySelector("[data-zoom-whole]");
  const fingers = new Map();
  let view = { x: x0, y: y0, w: w0, h: h0 };
  let moved = 0;

  function show(next) {
    const w = Math.min(w0, Math.max(w0 / MOST, next.w));
    const h = (w * h0) / w0;
    view = { w, h, x: Math.min(x0 + w0 - w, Math.max(x0, next.x)), y: Math.min(y0 + h0 - h, Math.max(y0, next.y)) };
    svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
    const isZoomed = w < w0 * 0.999;
    frame.classList.toggle("is-zoomed", isZoomed);
    wholeButton.hidden = !isZoomed;
  }

  // Where a point of the screen lies in the picture, and how much picture one pixel shows.
  function at(px, py) {
    const m = svg.getScreenCTM().inverse();
    return { x: m.a * px + m.e, y: m.d * py + m.f, unit: m.a };
  }

  function zoom(by, px, py) {
    const to = at(px, py);
    const w = Math.min(w0, Math.max(w0 / MOST, view.w / by));
    const k = w / view.w;
    show({ w, x: to.x - (to.x - view.x) * k, y: to.y - (to.y - view.y) * k });
  }

  const spread = ([a, b]) => Math.hypot(a.x - b.x, a.y - b.y);
  frame.addEventListener("pointerdown", (event) => {
    if (fingers.size === 0) moved = 0;
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  frame.addEventListener("pointermove", (event) => {
    const was = fingers.get(event.pointerId);
    if (!was) return;
    const before = [...fingers.values()];
    const now = { x: event.clientX, y: event.clientY };
    fingers.set(event.pointerId, now);
    moved += Math.hypot(now.x - was.x, now.y - was.y);
    if (moved < STILL_PX) return;
    if (!frame.hasPointerCapture(event.pointerId)) frame.setPointerCapture(event.pointerId);
    if (fingers.size === 2) {
      const [a, b] = [...fingers.values()];
      zoom(spread([a, b]) / Math.max(1, spread(before)), (a.x + b.x) / 2, (a.y + b.y) / 2);
    } else if (fingers.size === 1) {
      const { unit } = at(0, 0);
      show({ ...view, x: view.x - (now.x - was.x) * unit, y: view.y - (now.y - was.y) * unit });
    }
  });
  for (const name of ["pointerup", "pointercancel"]) {
    frame.addEventListener(name, (event) => fingers.delete(event.pointerId));
  }
  frame.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(event.deltaY < 0 ? 1.25 : 0.8, event.clientX, event.clientY);
  }, { passive: false });

  const tell = (piece) =>
    piece && frame.dispatchEvent(new CustomEvent("piece:touched", { bubbles: true, detail: Number(piece.dataset.piece) }));
  frame.addEventListener("click", (event) => moved < STILL_PX && tell(event.target.closest("[data-piece]")));
  frame.addEventListener("keydown", (event) => {
    const piece = event.target.closest("[data-piece]");
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (piece && step) frame.querySelector(`[data-piece="${Number(piece.dataset.piece) + step}"]`)?.focus();
    else if (piece && [" ", "Enter"].includes(event.key)) tell(piece);
    else return;
    event.preventDefault();
  });
  frame.parentElement.addEventListener("click", (event) => {
    const box = frame.getBoundingClientRect();
    const by = event.target.closest("[data-zoom-by]")?.dataset.zoomBy;
    if (by) zoom(Number(by), box.x + box.width / 2, box.y + box.height / 2);
    else if (event.target.closest("[data-zoom-whole]")) show({ x: x0, y: y0, w: w0 });
  });
}

document.querySelectorAll("[data-zoom]").forEach(start);
