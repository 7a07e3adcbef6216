"""The picture of one part: a sheet part with its width and height, a tube part from its sides and its end."""

from collections.abc import Callable, Sequence
from functools import partial

from nesting.export.svg_dimensions import across, upright
from nesting.export.svg_paths import View, escaped, measure, path_data, picture
from nesting.export.svg_tube import tube_svg
from nesting.export.svg_tube_unrolled import unrolled_svg
from nesting.export.svg_tube_views import sides_svg, slanted_svg
from nesting.model.findings import Finding
from nesting.model.part import Part, SheetPart

QUARTERS = (0, 90, 180, 270)
"""Degrees by which tube is rolled in its pictures at a slant."""


def part_svg(part: Part) -> str:
    """The part in its own coordinates, with its overall measures."""
    if isinstance(part, SheetPart):
        return sheet_part_svg(part)
    return tube_svg(part) if part.ends is None else sides_svg(part)


def part_svgs(part: Part, findings: Sequence[Finding] = ()) -> dict[str, Callable[[], str]]:
    """Every picture of the part by its name, each drawn when it is called for.

    They are "flat" of sheet; of tube "sides", "unrolled", and "slanted-0" to "slanted-270", each rolled a quarter
    further. Of tube whose ends are not known there is "sides" alone. Findings with a place are numbered on those of
    tube, from 1.
    """
    if isinstance(part, SheetPart):
        return {"flat": partial(sheet_part_svg, part)}
    if part.ends is None:
        return {"sides": partial(tube_svg, part)}
    pictures: dict[str, Callable[[], str]] = {
        "sides": partial(sides_svg, part, findings),
        "unrolled": partial(unrolled_svg, part, findings),
    }
    for turn in QUARTERS:
        pictures[f"slanted-{turn}"] = partial(slanted_svg, part, float(turn), findings)
    return pictures


def sheet_part_svg(part: SheetPart) -> str:
    """The part in its own coordinates, holes open, with its width and height."""
    bounds = part.bounds
    # A long thin part still needs letters that can be read, so they follow mostly the longer side.
    letter = (max(bounds.width, bounds.height) + 0.3 * min(bounds.width, bounds.height)) / 26.0
    body = [
        f'<g class="piece k1" data-part="{escaped(part.name)}">'
        f'<path fill-rule="evenodd" d="{path_data((part.outer, *part.holes))}"/></g>'
    ]
    if part.marks:
        body.append(f'<path class="marks" d="{path_data(part.marks)}"/>')
    body.append(across(bounds.left, bounds.right, bounds.bottom - 2.4 * letter, letter, from_y=bounds.bottom))
    body.append(upright(bounds.bottom, bounds.top, bounds.left - 1.4 * letter, letter, from_x=bounds.left))
    view = View.around(bounds, 3.2 * letter, 3.2 * letter, letter, letter)
    # A narrow part needs room beside it for a measure wider than itself, a low one above and below.
    across_room = max(0.0, (5.0 * letter - bounds.width) / 2.0)
    upright_room = max(0.0, (5.0 * letter - bounds.height) / 2.0)
    view = View(view.left, view.bottom - upright_room, view.right + across_room, view.top + upright_room)
    holes = "hole" if len(part.holes) == 1 else "holes"
    words = f"{measure(bounds.width)} wide, {measure(bounds.height)} high, {len(part.holes)} {holes}."
    return picture("part-picture", view, part.name, words, body, role="img")
