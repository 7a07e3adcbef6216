// What holds for the whole sheet: strips along its edges that stay free, and how many different parts it may hold.
const EDGES = [["left", 0, 1], ["lower", 1, 1], ["right", 2, -1], ["upper", 3, -1]];

// How far in from each edge pieces begin (left, lower, right, upper): the margin, or what is kept free there.
export const keptAt = ({ margin_mm: margin, sides_mm: sides }) => sides.map((side) => Math.max(margin, side));

// A sentence for each strip that the piece with this box reaches into.
export function strips({ sides_mm: sides }, sheet, box, name, slack) {
  return EDGES.filter(([, k, inwards]) => sides[k] && (box[k] - sheet[k]) * inwards < sides[k] - slack)
    .map(([edge, k]) => `${name} reaches into the ${sides[k]} mm kept free at the ${edge} edge.`);
}

// The strips as boxes [left, lower, right, upper] on a sheet with this box, to be drawn.
export function stripBoxes({ sides_mm: sides }, [l, b, r, t]) {
  const boxes = [[l, b, l + sides[0], t], [l, b, r, b + sides[1]], [r - sides[2], b, r, t], [l, t - sides[3], r, t]];
  return boxes.map((box) => [Math.max(box[0], l), Math.max(box[1], b), Math.min(box[2], r), Math.min(box[3], t)])
    .filter((_, k) => sides[k]);
}

// A sentence where more different parts lie on the sheet than it may hold.
export function tooManyKinds({ most_kinds: most }, pieces) {
  const kinds = new Set(pieces.map((piece) => piece.piece)).size;
  return most && kinds > most ? [`${kinds} different parts lie on the sheet; it may hold ${most}.`] : [];
}
