"""Parts of tube, profile and bar of every kind with the truth about each: `python -m tests.tube_fixtures FOLDER` writes
them as STEP files with a JSON file of the truth beside each.

The truth is the description that a part was made from, never what a reader said of it.
"""

import json
import sys
from dataclasses import dataclass, replace
from itertools import cycle
from pathlib import Path

from nesting.model.section import HOLLOW, Section, SectionShape
from nesting.records.parts import section_to_record
from nesting.tube.step_writer import write_solids
from nesting.tube.tube_solids import Cope, Hole, Mitre, Placement, Slot, Tube, Window, tube_solid
from tests import other_solids

HOLLOWS = {
    "square": Section.box(40, 40, 3, 6),
    "square-hot": Section.box(50, 50, 4, 6, 4),
    "square-sharp": Section.box(30, 30, 2, 0),
    "rectangular": Section.box(60, 40, 3, 6),
    "rectangular-thick": Section.box(100, 50, 8, 20),
    "round": Section.round(48.3, 3),
    "round-thin": Section.round(25, 1),
    "oval": Section.oval(60, 30, 2),
}

BARS = {
    "angle-equal": Section.angle(50, 50, 5, 7, 3.5),
    "angle-unequal": Section.angle(60, 40, 5, 6, 3),
    "angle-bent": Section.angle(50, 50, 3, 3, 0, 6),
    "channel": Section.channel(100, 50, 5, 8.5, 9),
    "channel-bent": Section.channel(60, 40, 3, 3, 3, 0, 6),
    "i-beam": Section.i_beam(96, 100, 5, 8, 12),
    "tee": Section.tee(50, 60, 5, 6, 4, 2),
    "flat-bar": Section.bar(50, 10, 1),
    "square-bar": Section.bar(30, 30),
    "round-bar": Section.round_bar(20),
}

PLACEMENTS = (
    Placement(),
    Placement((1, 2, 3), 77, (40, -900, 3)),
    Placement((0, 0, 1), 90, (0, 0, 500)),
    Placement((3, -1, 2), 133, (500, -90, 7)),
    Placement((0, 1, 0), 180, (-20, 5, 60)),
    Placement((1, 0, 0), 33, (1000, 0, 0)),
)


@dataclass(frozen=True)
class Fixture:
    """One part, the unit of its file, and a change of its surfaces that must make no difference."""

    name: str
    tube: Tube
    unit: str = "mm"
    change: str = ""

    def write(self, path):
        solid = tube_solid(self.tube)
        if self.change:
            solid = getattr(other_solids, self.change)(solid)
        write_solids(path, [(self.name, solid)], self.unit)
        return path

    @property
    def truth(self):
        tube = self.tube
        inner = [opening for opening in tube.openings if opening.x not in (0.0, tube.length)]
        return {
            "section": section_to_record(tube.section),
            "length_mm": tube.length,
            "ends": [_end_truth(tube, end, at) for end, at in ((tube.start, 0.0), (tube.end, tube.length))],
            "cut_outs": [truth for opening in inner for truth in _cut_truth(tube, opening)],
        }


def _end_truth(tube, end, x):
    if any(opening.x == x for opening in tube.openings):
        plane = {} if end is None else {"towards_deg": end.towards}
        return {"kind": "notched", "angle_deg": 0.0 if end is None else end.angle} | plane
    if end is None:
        return {"kind": "square"}
    if isinstance(end, Mitre):
        return {"kind": "mitre", "angle_deg": end.angle, "towards_deg": end.towards}
    return {"kind": "cope", "angle_deg": end.angle, "diameter_mm": end.diameter, "offset_mm": abs(end.offset)}


def _cut_truth(tube, opening):
    """One for each wall that is gone through."""
    if isinstance(opening, Window) and opening.length > tube.length:
        middle = {} if tube.start or tube.end else {"x_mm": tube.length / 2}  # mitres shorten it on one side
        return [{"kind": "slit", "towards_deg": opening.towards} | middle]
    kind = {Hole: "round hole", Slot: "slot", Window: "rectangle"}[type(opening)]
    size = opening.diameter if isinstance(opening, Hole) else 0.0
    if isinstance(opening, Slot):
        size = opening.width
    first = {"kind": kind, "x_mm": opening.x, "towards_deg": opening.towards, "diameter_mm": size}
    walls = tube.section.shape in HOLLOW and opening.both_walls
    return [first, first | {"towards_deg": (opening.towards + 180.0) % 360.0}] if walls else [first]


def _openings(section):
    """Round hole, slot and rectangle in flats that every such section has."""
    if section.shape in HOLLOW:
        flat = min(section.width - 2 * section.corner_radius, 12.0) if section.shape is not SectionShape.OVAL else 12.0
        flat = 0.6 * max(flat, 0.3 * section.width)
        side = 0.0 if section.shape is SectionShape.OVAL else 90.0
        return (
            Hole(120, flat, side, both_walls=True), Slot(190, 3 * flat, flat, 0.0), Window(260, 2 * flat, flat, 180.0)
        )  # fmt: skip
    side, offset = {
        SectionShape.ANGLE: (270.0, 5.0),
        SectionShape.TEE: (90.0, 15.0),
        SectionShape.I_BEAM: (90.0, 30.0),
        SectionShape.FLAT_BAR: (0.0, 0.0),
        SectionShape.SQUARE_BAR: (0.0, 0.0),
        SectionShape.ROUND_BAR: (0.0, 0.0),
    }.get(section.shape, (180.0, 0.0))
    through = section.shape in (SectionShape.FLAT_BAR, SectionShape.SQUARE_BAR, SectionShape.ROUND_BAR)
    return (Hole(120, 6, side, offset, through), Slot(190, 18, 6, side, offset, through))


def all_fixtures():
    """Every kind of section plain, mitred and with openings; copes on all hollow ones; then what is rare."""
    places, units = cycle(PLACEMENTS), cycle(("mm", "inch", "m"))
    made = []

    def add(name, tube, change=""):
        made.append(Fixture(name, replace(tube, name=name, placement=next(places)), next(units), change))

    for name, section in (HOLLOWS | BARS).items():
        add(f"{name}-plain", Tube(section, 437.25))
        add(f"{name}-mitred", Tube(section, 600.0, start=Mitre(45.0, 90.0), end=Mitre(30.0, 180.0)))
        add(f"{name}-cut", Tube(section, 400.0, openings=_openings(section)))
    for name, section in HOLLOWS.items():
        mate = 1.2 * max(section.height, section.width)
        add(f"{name}-coped", Tube(section, 500.0, start=Cope(mate, 0.0), end=Cope(2 * mate, 90.0, 3.0, 60.0)))
    square, round_tube, box = HOLLOWS["square"], HOLLOWS["round"], HOLLOWS["rectangular"]
    drilled = tuple(Hole(50 + 20 * k, 8, 30.0 * k) for k in range(12))
    add("round-perforated", Tube(round_tube, 400.0, openings=drilled))
    rows = tuple(Hole(20 + 12 * k, 9, 90.0 * side, 5.0 * (-1) ** k) for k in range(16) for side in range(4))
    add("square-perforated", Tube(square, 240.0, openings=rows))
    add("square-notched", Tube(square, 300.0, end=Mitre(20.0, 0.0), openings=(Window(0.0, 60, 15, 90),)))
    add("square-mitre-notched", Tube(square, 400.0, start=Mitre(45.0, 90.0), openings=(Window(0.0, 90, 12, 90),)))
    add("round-mitre-notched", Tube(round_tube, 400.0, end=Mitre(30.0, 200.0), openings=(Window(400.0, 80, 14, 20),)))
    for name, section in (("square", square), ("round", round_tube), ("rectangular", box), ("oval", HOLLOWS["oval"])):
        saw = Window(250.0, 600, 3, 180 if name == "oval" else 270)
        add(f"{name}-slit", Tube(section, 500.0, openings=(saw,)))
        add(
            f"{name}-slit-mitred",
            Tube(section, 500.0, start=Mitre(45.0, 90.0), end=Mitre(20.0, 0.0), openings=(saw, Hole(300, 9, 0.0))),
        )
    add("round-twisted", Tube(round_tube, 500.0, start=Mitre(40.0, 10.0), end=Mitre(25.0, 147.0)))
    for change in ("free_form", "split_at_quarters"):
        for name, section in (("square", square), ("round", round_tube), ("rectangular", box)):
            tube = Tube(
                section, 500.0, start=Mitre(35.0, 90.0), end=Cope(88.9, 0.0, 4.0), openings=(Hole(200, 9, 180),)
            )
            add(f"{name}-{change.replace('_', '-')}", tube, change)
    return tuple(made)


FIXTURES = all_fixtures()


def main(folder):
    folder.mkdir(parents=True, exist_ok=True)
    for fixture in FIXTURES:
        fixture.write(folder / f"{fixture.name}.step")
        (folder / f"{fixture.name}.json").write_text(json.dumps(fixture.truth, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
