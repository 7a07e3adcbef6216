"""The demo's tube models, all invented: eight rails and posts of trailers, gates and stalls, and the frame of a gate as
one file. Needs Open CASCADE.
"""

from pathlib import Path

from nesting.model.section import Section
from nesting.tube.step_writer import write_tubes
from nesting.tube.tube_solids import Hole, Mitre, Placement, Slot, Tube

# Outer corner radius 2 T for walls up to 6 mm. Source: EN 10219-2, annex on sectional properties.
SQUARE_40 = Section.box(40, 40, 3, 6)
SQUARE_50 = Section.box(50, 50, 3, 6)
RAIL_60 = Section.box(60, 40, 3, 6)
ROUND_48 = Section.round(48.3, 3)
ROUND_33 = Section.round(33.7, 3)

TUBE_PARTS = (
    Tube(RAIL_60, 1200, "trailer-side-rail", openings=tuple(Hole(x, 9, both_walls=True) for x in (60, 330, 870, 1140))),
    Tube(SQUARE_40, 640, "trailer-cross-bar", openings=(Hole(320, 11, both_walls=True),)),
    Tube(SQUARE_50, 980, "trailer-tow-bar", end=Mitre(45), openings=(Hole(40, 17, both_walls=True), Slot(160, 40, 12))),
    Tube(SQUARE_50, 1650, "gate-post", openings=tuple(Hole(x, 13) for x in (150, 825, 1500))),
    Tube(SQUARE_40, 920, "gate-rail", start=Mitre(45), end=Mitre(45)),
    Tube(SQUARE_40, 1100, "gate-stile", openings=tuple(Slot(x, 30, 8) for x in (200, 550, 900))),
    Tube(ROUND_48, 2150, "stall-pole", openings=(Hole(25, 8.5, both_walls=True), Hole(1100, 8.5, both_walls=True))),
    Tube(
        ROUND_33, 1480, "stall-cross-tube", openings=(Hole(20, 8.5, both_walls=True), Hole(1460, 8.5, both_walls=True))
    ),
)

FRAME = "gate-frame"
FRAME_WIDE, FRAME_HIGH = 900.0, 1100.0
MIDDLE = 20.0
"""From the outside of the frame to the middle of its tube."""
BELOW, ABOVE = Mitre(45, 270), Mitre(45, 90)

FRAME_TUBES = (
    # As they are welded: upright, seen from the front, the lower left outer corner in the origin, mitres long outside.
    Tube(SQUARE_40, FRAME_WIDE, "frame-rail", BELOW, BELOW, placement=Placement(shift=(0.0, 0.0, MIDDLE))),
    Tube(
        SQUARE_40, FRAME_WIDE, "frame-rail", BELOW, BELOW,
        placement=Placement(turn=180.0, shift=(0.0, 0.0, FRAME_HIGH - MIDDLE)),
    ),
    Tube(
        SQUARE_40, FRAME_HIGH, "frame-stile", BELOW, BELOW,
        placement=Placement((0.0, 1.0, 0.0), -90.0, (FRAME_WIDE - MIDDLE, 0.0, 0.0)),
    ),
    Tube(
        SQUARE_40, FRAME_HIGH, "frame-stile", ABOVE, ABOVE,
        placement=Placement((0.0, 1.0, 0.0), -90.0, (MIDDLE, 0.0, 0.0)),
    ),
)  # fmt: skip


def write_tube_parts(folder: Path) -> list[Path]:
    """Models all of them into the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for tube in TUBE_PARTS:
        path = folder / f"{tube.name}.step"
        write_tubes(path, [tube])
        paths.append(path)
    frame = folder / f"{FRAME}.step"
    write_tubes(frame, FRAME_TUBES, assembly=FRAME)
    return [*paths, frame]
