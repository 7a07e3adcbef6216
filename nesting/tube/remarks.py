"""What a person should know of a tube or bar that was recognised: unusual sections, stubs, slanting cuts, pockets."""

import math

from nesting.model.findings import Finding, Severity
from nesting.model.part import TubePart
from nesting.model.section import SOLID, Section, SectionShape
from nesting.model.tube_cuts import EndKind
from nesting.tube.tube_shape import TubeShape
from nesting.units import Deg, Mm, Point

USUAL_CORNER = (1.6, 3.0)
"""Outer corner radius in walls. Source: EN 10219-2:2006 corner profile: 1.6 T to 2.4 T up to 6 mm of wall, 2.0 T to
3.0 T up to 10 mm; EN 10210-2:2006: at most 3 T."""

USUAL_CORNER_THICK = 3.6
"""The upper limit for walls above 10 mm. Source: EN 10219-2:2006 corner profile, 2.4 T to 3.6 T."""

THICK_WALL = 0.2
"""Wall over width above which a "tube" is more often a turned bush. The thickest square section of EN 10219-2 has
0.16; common practice, no source for the limit."""

STUB = 0.5
"""Length over height under which a piece is hard to hold and may fall into the machine; common practice, no source."""

SMALLEST_SIDE: Mm = 5.0
LARGEST_SIDE: Mm = 610.0
LONGEST: Mm = 18_000.0
"""Outside size and length of tube that a laser takes, with room to spare: 10 to 500 mm and bars of 6 to 12 m are usual,
24 inch is the widest; common practice, no source. Beyond them a file most often states another unit than it was drawn
in."""

LEANS: Deg = 0.5
"""A cut face that leans less than this from square moves the inner edge by less than a hundredth of the wall."""


def remarks(name: str, part: TubePart, shape: TubeShape) -> list[Finding]:
    """Notes and warnings on a usable part."""
    return [*_size_remarks(name, part), *_section_remarks(name, part), *_cut_remarks(name, part, shape)]


def _size_remarks(name: str, part: TubePart) -> list[Finding]:
    section = part.section
    if section.width >= SMALLEST_SIDE and section.height <= LARGEST_SIDE and part.length <= LONGEST:
        return []
    words = (
        f"{name} is read as {section}, {part.length:.0f} mm long. Usual are sides of {SMALLEST_SIDE:g} to "
        f"{LARGEST_SIDE:g} mm and up to {LONGEST / 1000:g} m. Check that the file states the unit it was drawn in."
    )
    return [Finding("size-unusual", Severity.WARNING, words)]


def _section_remarks(name: str, part: TubePart) -> list[Finding]:
    section, found = part.section, []
    if not section.is_hollow:
        found += _bar_remarks(name, section)
    elif section.shape in (SectionShape.SQUARE, SectionShape.RECTANGULAR):
        low, high = USUAL_CORNER
        if section.wall > 10.0:
            high = USUAL_CORNER_THICK
        share = section.corner_radius / section.wall
        if section.corner_radius == 0.0:
            found.append(
                Finding(
                    "corner-sharp",
                    Severity.NOTE,
                    f"{name} is drawn with sharp outer corners. Real tube has round ones, so contours that cross a "
                    "corner will not meet as drawn, and the mass comes out too high.",
                )
            )
        elif not low - 1e-6 <= share <= high + 1e-6:
            found.append(
                Finding(
                    "corner-unusual",
                    Severity.NOTE,
                    f"{name} has an outer corner radius of {section.corner_radius:.2f} mm, {share:.1f} times its wall; "
                    f"{low:g} to {high:g} times is usual. Compare it with the tube in stock.",
                )
            )
    if section.is_hollow and section.wall > THICK_WALL * section.width:
        found.append(
            Finding(
                "wall-thick",
                Severity.WARNING,
                f"{name} has a wall of {section.wall:.2f} mm in a width of {section.width:.2f} mm. If it is a turned "
                "bush or a bored bar, it is not cut from tube.",
            )
        )
    if part.length < STUB * section.height:
        found.append(
            Finding(
                "stub-short",
                Severity.WARNING,
                f"{name} is only {part.length:.1f} mm long in a section of {section.height:.1f} mm. Check that it is a "
                "piece of tube, and that the machine can hold and drop it.",
            )
        )
    return found


def _bar_remarks(name: str, section: Section) -> list[Finding]:
    if section.shape is SectionShape.FLAT_BAR:
        words = f"{name} is read as {section}. If it is to be cut from sheet, draw it as DXF, one contour for each cut."
        return [Finding("flat-or-plate", Severity.NOTE, words)]
    if section.shape in SOLID:
        words = (
            f"{name} is solid {section}: the beam must go through {section.width:.4g} mm. Check that it can, or saw it."
        )
        return [Finding("bar-solid", Severity.NOTE, words)]
    if section.corner_radius > 0.0:
        words = (
            f"{name} is read as {section} bent with an outer radius of {section.corner_radius:.2f} mm. If it is to be "
            "bent from sheet, draw the flat blank as DXF instead."
        )
        return [Finding("profile-bent", Severity.WARNING, words)]
    if section.root_radius == 0.0:
        words = (
            f"{name} is drawn without the root radius of rolled {section.shape}. Real profiles have one, so contours "
            "that run into the root will not meet as drawn, and the mass comes out too low."
        )
        return [Finding("root-sharp", Severity.NOTE, words)]
    return []


def _cut_remarks(name: str, part: TubePart, shape: TubeShape) -> list[Finding]:
    found = [
        Finding(
            "pocket",
            Severity.WARNING,
            f"{name} has a hollow at {pocket.middle[0]:.0f} mm that does not go through the wall. It is left out: a "
            "laser cuts through.",
            (pocket.middle[0], 0.0),
        )
        for pocket in shape.pockets
    ]
    found += [
        Finding(
            "slit",
            Severity.WARNING,
            f"{name} is slit from end to end, {opening.slit:.2f} mm wide, {cut.face}. A tube may spring open or "
            "shut when it is slit, and a chuck may close the slit: check the first piece.",
            (cut.x, cut.s),
        )
        for opening, cut in zip(shape.openings, part.cut_outs, strict=True)
        if opening.slit
    ]
    found += [
        Finding(
            "end-notched",
            Severity.NOTE,
            f"{name} has an end that is {end}. A saw makes the plane only; the notch is a second cut.",
        )
        for end in part.ends or ()
        if end.kind is EndKind.NOTCHED
    ]
    ends = (shape.start.outer.x, shape.end.outer.x)
    short = max(float(ends[0].min()), part.length - float(ends[1].max()))
    if short > 0.05:
        found.append(
            Finding(
                "end-chamfered",
                Severity.WARNING,
                f"{name} has an end whose outer edge stands {short:.2f} mm back from the end face. The chamfer is left "
                "out: the cut is made at the outer edge.",
            )
        )
    cuts: list[tuple[str, Deg, Point | None]] = [("its ends", shape.lean_of_ends, None)]
    worst = max(part.cut_outs, key=lambda cut: cut.bevel, default=None)
    if worst is not None:
        cuts.append(("its openings", worst.bevel, (worst.x, worst.s)))
    for what, lean, at in cuts:
        if lean > LEANS:
            found.append(
                Finding(
                    "cut-leans",
                    Severity.NOTE,
                    f"The cut faces of {what} in {name} lean by up to {lean:.0f}° from square to the surface. A beam "
                    "that stays square follows the outer contour, so the inner edge will differ from the model"
                    + _by_how_much(part.section, lean)
                    + ".",
                    at,
                )
            )
    return found


def _by_how_much(section: Section, lean: Deg) -> str:
    """How far the inner edge is off where a leaning face goes through one wall; past 80 degrees that says little."""
    if not section.is_hollow or lean > 80.0:
        return ""
    return f", by up to {section.wall * math.tan(math.radians(lean)):.1f} mm"
