"""Checks of rules for a whole sheet: strips along its sides that stay free, and how many different parts it takes."""

from collections.abc import Iterator, Sequence

from nesting.model.findings import Finding, Severity
from nesting.model.nest import Placement, SheetLayout, SheetRules
from nesting.model.stock import Sheet
from nesting.units import CHECK_SLACK, Point
from nesting.verify.metal import FINE, MetalOfParts


def kind_faults(where: str, layout: SheetLayout, rules: SheetRules) -> Iterator[Finding]:
    """More different parts on a sheet than its rules allow."""
    kinds = len({p.part for p in layout.placements})
    if rules.most_kinds is not None and kinds > rules.most_kinds:
        message = f"{where}: {kinds} different parts; at most {rules.most_kinds} may lie on one sheet."
        yield _fault("too-many-kinds", message)


def side_faults(
    where: str, sheet: Sheet, rules: SheetRules, placements: Sequence[Placement], metal: MetalOfParts
) -> Iterator[Finding]:
    """Parts that reach into a strip which is to stay free."""
    if not rules.sides:
        return
    b, sides = sheet.outline.bounds, rules.sides
    for p in placements:
        left, bottom, right, top = metal.placed(p, FINE).bounds
        middle: Point = ((left + right) / 2.0, (bottom + top) / 2.0)
        reaches = (
            ("left", sides.left, left - b.left, (left, middle[1])),
            ("lower", sides.bottom, bottom - b.bottom, (middle[0], bottom)),
            ("right", sides.right, b.right - right, (right, middle[1])),
            ("upper", sides.top, b.top - top, (middle[0], top)),
        )
        for side, width, distance, at in reaches:
            if distance < width - CHECK_SLACK:
                message = (
                    f"{where}: {p.part} is {distance:.3f} mm from the {side} side of {sheet.name}, of which "
                    f"{width:g} mm stay free."
                )
                yield _fault("side-not-free", message, at)


def _fault(code: str, message: str, at: Point | None = None) -> Finding:
    return Finding(code, Severity.REFUSAL, message, at)
