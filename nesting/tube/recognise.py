"""Says of a solid which tube part it is, or why it is none; knows no geometry kernel.

`section_finder` and `profile_finder` find the section, `tube_shape` its ends and openings, `end_cuts` and
`cut_outs` say what those are, `seems` says what else it
may be, and `remarks` what a person should know of it.
"""

from nesting.errors import BadValue
from nesting.model.findings import Finding, Severity
from nesting.model.part import TubePart
from nesting.tube.cut_outs import cut_outs
from nesting.tube.end_cuts import end_cuts
from nesting.tube.found_section import ROUND_OFF
from nesting.tube.remarks import remarks
from nesting.tube.solid import Solid
from nesting.tube.tube_shape import NotATube, tube_shape


def recognise(solid: Solid, name: str) -> tuple[TubePart | None, list[Finding]]:
    """The tube part, or None, with what was found. Findings' places are (x along the tube, 0)."""
    try:
        shape = tube_shape(solid)
        part = TubePart(
            name,
            shape.section.section,
            round(shape.section.length, ROUND_OFF),
            len(shape.openings),
            shape.cut_length,
            shape.start.is_square and shape.end.is_square,
            solid.volume,
            end_cuts(solid, shape),
            cut_outs(solid, shape),
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
