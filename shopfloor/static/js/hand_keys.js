// Keys on the sheet: Page Up and Page Down pick a piece, arrows move it, r turns it, Delete takes it off; Ctrl with z and y
// undo and redo wherever no field is being typed in.
export const ways = { left: [-1, 0], right: [1, 0], up: [0, 1], down: [0, -1] };

export function listenToKeys(svg, board) {
  svg.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? 10 : event.altKey ? 0.1 : 1;
    const arrow = ways[event.key.replace("Arrow", "").toLowerCase()];
    const stepTo = { PageDown: 1, PageUp: -1 }[event.key];
    if (arrow) board.nudge(arrow[0] * step, arrow[1] * step);
    else if (stepTo && board.pieces.length) {
      const found = board.pieces.findIndex((piece) => board.picked.has(piece.id));
      const now = found < 0 && stepTo < 0 ? 0 : found;
      board.pick(board.pieces[(now + stepTo + board.pieces.length) % board.pieces.length].id);
    } else if (event.key === "Delete") board.takeOff();
    else if (event.key === "r") board.turn(1);
    else return;
    event.preventDefault();
  });
  addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.closest("input")) return;
    if (event.key === "z") board.undo();
    else if (event.key === "y") board.redo();
    else return;
    event.preventDefault();
  });
}
