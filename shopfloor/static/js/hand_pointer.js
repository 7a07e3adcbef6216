// Fingers and mouse on the sheet: a piece is dragged, the ground moves the view, two fingers or the wheel enlarge it.
const STILL_PX = { mouse: 3, touch: 9, pen: 6 };
const SNAP_PX = 10;

export function listen(svg, view, board, isSeveral) {
  const fingers = new Map();
  let drag = null;
  const spread = ([a, b]) => Math.hypot(a.x - b.x, a.y - b.y);

  // The browser makes no gesture of its own of a drag: it would take the next tap, on a button, for the end of a fling.
  svg.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });

  svg.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    svg.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (fingers.size > 1) {
      if (drag?.on) board.set(drag.from);
      drag = null;
      return;
    }
    // With the pointer captured the target is the sheet, so what lies under the finger is looked up.
    const hit = document.elementFromPoint(event.clientX, event.clientY)?.closest("[data-id]");
    const id = hit ? Number(hit.dataset.id) : null;
    const more = isSeveral() || event.shiftKey;
    if (id !== null && (more || !board.picked.has(id))) board.pick(id, { more });
    drag = { id, more, on: false, x: event.clientX, y: event.clientY, from: board.pieces };
  });

  svg.addEventListener("pointermove", (event) => {
    const was = fingers.get(event.pointerId);
    if (!was) return;
    const before = [...fingers.values()];
    const now = { x: event.clientX, y: event.clientY };
    fingers.set(event.pointerId, now);
    if (fingers.size === 2) {
      const [a, b] = [...fingers.values()];
      view.zoom(spread([a, b]) / Math.max(1, spread(before)), (a.x + b.x) / 2, (a.y + b.y) / 2);
      view.pan((now.x - was.x) / 2, (now.y - was.y) / 2);
      return;
    }
    if (!drag) return;
    const [dx, dy] = [now.x - drag.x, now.y - drag.y];
    drag.on ||= Math.hypot(dx, dy) > (STILL_PX[event.pointerType] ?? 6);
    if (!drag.on) return;
    const { unit } = view.at(0, 0);
    if (drag.id === null) view.pan(now.x - was.x, now.y - was.y);
    else if (board.picked.has(drag.id)) board.drag(drag.from, dx * unit, -dy * unit, event.altKey ? 0 : SNAP_PX * unit);
  });

  function up(event) {
    fingers.delete(event.pointerId);
    if (drag?.on && drag.id !== null) board.dropped(drag.from);
    else if (drag && drag.id === null && !drag.on && !drag.more) board.pick(null);
    drag = null;
  }
  svg.addEventListener("pointerup", up);
  svg.addEventListener("pointercancel", (event) => {
    if (drag?.on && drag.id !== null) board.set(drag.from);
    drag = null;
    fingers.delete(event.pointerId);
  });
  svg.addEventListener("wheel", (event) => {
    event.preventDefault();
    view.zoom(event.deltaY < 0 ? 1.25 : 0.8, event.clientX, event.clientY);
  }, { passive: false });
}
