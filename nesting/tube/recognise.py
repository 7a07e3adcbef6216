"""Says of a solid which tube part it is, or why it is none; knows no geometry kernel.

`section_finder` finds the hollow section, `tube_shape` its ends and openings, `seems` says what else it may be, and
`remarks` what a person should know of it.
"""

from nesting.errors import BadValue
from nesting.model.findings import Finding, Severity
from nesting.model.part import TubePart
from nesting.model.section import Section
from nesting.tube.remarks import remarks
from nesting.tube.section_finder import FIT, HollowSection
from nesting.tube.solid import Solid
from nesting.tube.tube_shape import NotATube, tube_shape

ROUND_OFF = 6
"""Decimals that dimensions keep: float noise below SAME_POINT would keep equal sections apart."""


def recognise(solid: Solid, name: str) -> tuple[TubePart | None, list[Finding]]:
    """The tube part, or None, with what was found. Findings' places are (x along the tube, 0)."""
    try:
        shape = tube_shape(solid)
        part = TubePart(
            name,
            as_section(shape.section),
            round(shape.section.length, ROUND_OFF),
            len(shape.openings),
            sum(c.length for c in (shape.start.outer, shape.end.outer, *shape.openings)),
            shape.start.is_square and shape.end.is_square,
            solid.volume,
        )
    except NotATube as fault:
        return None, [Finding(fault.code, Severity.REFUSAL, f"{name} {fault.reason}.")]
    except BadValue as fault:
        return None, [Finding("section-impossible", Severity.REFUSAL, f"{name} has no possible section: {fault}")]
    found = remarks(name, part, shape)
    if not solid.is_sound:
        words = f"{name} has faults in its solid. Compare size and openings with the drawing, or export it again."
        found.append(Finding("solid-faulty", Severity.WARNING, words))
    return part, found


def as_section(found: HollowSection) -> Section:
    """The noun, its measures rounded to ROUND_OFF decimals; a height and width that differ by less than FIT are one.

    Raises:
        BadValue: measures that no section can have.
    """
    wall = round(found.wall, ROUND_OFF)
    if found.is_round:
        return Section.round(round(found.outer.height, ROUND_OFF), wall)
    height, width = round(found.outer.height, ROUND_OFF), round(found.outer.width, ROUND_OFF)
    if abs(height - width) < FIT / 10.0:
        width = height
    return Section.box(height, width, wall, round(found.outer.radius, ROUND_OFF), round(found.inner.radius, ROUND_OFF))
