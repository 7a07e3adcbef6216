"""Which unit a drawing is in: what its header says, what a person says, and whether the sizes make one doubt it.

DXF coordinates have no unit of their own; only the header variable $INSUNITS names one, and R12 does not know it. The
reader never guesses: without a unit it asks, and it shows the size in millimetres and in inches so that a person can.
"""

import re
import struct
from dataclasses import dataclass

from nesting.drawing.refusals import note, warning
from nesting.drawing.wording import size
from nesting.errors import BadValue
from nesting.geometry.contour import Bounds
from nesting.model.findings import Finding, Severity
from nesting.units import MM_PER_INCH, Mm

HEADER_UNITS: dict[int, tuple[str, Mm]] = {
    1: ("inch", MM_PER_INCH),
    2: ("foot", 12 * MM_PER_INCH),
    3: ("mile", 63360 * MM_PER_INCH),
    4: ("mm", 1.0),
    5: ("cm", 10.0),
    6: ("m", 1000.0),
    7: ("km", 1e6),
    8: ("microinch", MM_PER_INCH * 1e-6),
    9: ("mil", MM_PER_INCH * 1e-3),
    10: ("yard", 36 * MM_PER_INCH),
    11: ("angstrom", 1e-7),
    12: ("nm", 1e-6),
    13: ("micron", 1e-3),
    14: ("dm", 100.0),
    15: ("dam", 1e4),
    16: ("hm", 1e5),
    21: ("US survey foot", 1200e3 / 3937),
    22: ("US survey inch", 100e3 / 3937),
    23: ("US survey yard", 3600e3 / 3937),
    24: ("US survey mile", 5280 * 1200e3 / 3937),
}
"""Name and millimetres of each value of $INSUNITS (DXF reference, system variables); 0 and the units of astronomers
say nothing about a sheet metal part. The survey foot is 1200/3937 m."""

ANSWERS: dict[str, Mm] = dict(HEADER_UNITS.values())
"""What a person may answer to the question for the unit, in millimetres."""

LARGE_FOR_OTHER_UNITS: Mm = 1000.0
"""A contour that comes out larger than this through inches (or another unit than mm) is doubted: few parts from sheet
are, and a header that says inch over sizes in mm is the commonest fault of real files (common practice, no source)."""

SMALL_FOR_MM: Mm = 12.0
"""A drawing whose largest contour is smaller than this in mm is doubted: it may be in inches. An M6 washer is just as
large (12 mm outside, ISO 7089, from memory)."""


@dataclass(frozen=True)
class DrawingUnit:
    """The unit a drawing is read in. `name` is empty where nobody has said; then numbers are taken as mm for the
    picture. `by_person` is true where a person has said it, which ends all doubt.
    """

    name: str
    mm: Mm
    by_person: bool = False


def header_unit(data: bytes) -> int:
    """The value of $INSUNITS in the raw file, ASCII or binary; 0 where there is none.

    The raw file is asked because a library that loads it may fill in a default of its own.
    """
    found = re.search(rb"\$INSUNITS[ \t]*\r?\n[ \t]*70[ \t]*\r?\n[ \t]*(-?\d{1,9})[ \t]*\r?\n", data)
    if found:
        return int(found.group(1))
    at = data.find(b"$INSUNITS\x00")
    if at >= 0:
        # Binary files hold the group code 70 in two bytes, those of R12 in one; the value in two.
        behind = data[at + 10 : at + 14]
        wide = behind[:2] == b"\x46\x00"
        value = behind[2:4] if wide else behind[1:3]
        if behind[:1] == b"\x46" and len(value) == 2:
            return int(struct.unpack("<h", value)[0])
    return 0


def unit_of(data: bytes, answer: str) -> DrawingUnit:
    """The unit to read in: the person's answer where there is one, else what the header says.

    Raises:
        BadValue: the answer is no unit that is known here.
    """
    if answer:
        check_answer(answer)
        return DrawingUnit(answer, ANSWERS[answer], by_person=True)
    name, mm = HEADER_UNITS.get(header_unit(data), ("", 1.0))
    return DrawingUnit(name, mm)


def check_answer(answer: str) -> None:
    if answer and answer not in ANSWERS:
        raise BadValue(f"The unit {answer!r} is not known; known are {', '.join(ANSWERS)}.")


def unit_findings(unit: DrawingUnit, everything: Bounds | None, largest: Bounds | None) -> list[Finding]:
    """What is to be asked, doubted or told about the unit.

    `everything` bounds all that is cut and `largest` the largest contour, in millimetres as read; None where there
    is none.
    """
    if everything is None:
        return []
    whole = largest or everything
    if not unit.name:
        message = (
            f"The file does not say which unit it is in. In mm {_shown(whole, largest)} is "
            f"{size(whole.width, whole.height)}; in inch it is {_in_unit(whole, 1.0)}, "
            f"which is {size(whole.width * MM_PER_INCH, whole.height * MM_PER_INCH)}. Choose the unit."
        )
        return [Finding("unit-unknown", Severity.QUESTION, message)]
    findings = []
    reach = max(whole.width, whole.height)
    if not unit.by_person and unit.name == "mm" and reach < SMALL_FOR_MM:
        in_inch = size(whole.width * MM_PER_INCH, whole.height * MM_PER_INCH)
        message = (
            f"The file says mm, and so {_shown(whole, largest)} is only {size(whole.width, whole.height)}. "
            f"If it was drawn in inch it is {in_inch}. Check the size and choose the unit."
        )
        findings.append(warning("unit-doubtful", message))
    elif not unit.by_person and unit.name != "mm" and reach > LARGE_FOR_OTHER_UNITS:
        message = (
            f"The file says {unit.name}, and so {_shown(whole, largest)} is {size(whole.width, whole.height)}. "
            f"If it was drawn in mm it is {size(whole.width / unit.mm, whole.height / unit.mm)}. "
            "Check the size and choose the unit."
        )
        findings.append(warning("unit-doubtful", message))
    if unit.name != "mm":
        message = (
            f"The drawing is read in {unit.name}: {_in_unit(whole, unit.mm, unit.name)} in the drawing are "
            f"{size(whole.width, whole.height)}. Places in these notes are given in mm."
        )
        findings.append(note("unit-converted", message))
    return findings


def _shown(whole: Bounds, largest: Bounds | None) -> str:
    return "the largest contour" if largest is not None and largest == whole else "the drawing"


def _in_unit(whole: Bounds, mm: Mm, name: str = "inch") -> str:
    return size(whole.width / mm, whole.height / mm, name)
