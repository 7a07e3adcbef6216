"""Each part file of the demo, read by the command line, against a table worked out from the part's measures by hand.

Outlines are given as corners with their rounding, windows as circles, slots and lenses; what they enclose follows from
closed formulas below and not from anything that draws or reads.
"""

import json
import math
import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import ezdxf
import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Fuse
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from scipy.special import ellipe
from shapely.geometry import Polygon

from nesting.__main__ import main
from nesting.tube.tube_solids import tube_solid
from shopfloor.floor.demo.sheet_parts import SHEET_PARTS
from shopfloor.floor.demo.tube_parts import FRAME_TUBES
from tests.steel_tables import STEEL_KG_M3

ROOT = Path(__file__).parents[4]


class Ring(NamedTuple):
    """What a closed line encloses and how long it is."""

    area: float
    length: float


def polygon(*corners):
    """x, y and rounding of each corner, anticlockwise or clockwise.

    Source: shoelace formula; an arc of radius r in a corner of angle a touches its sides r cot(a/2) from the corner,
    so it takes r² (cot(a/2) - (π - a)/2) of area off (or adds it, where the corner points inwards) and r (2 cot(a/2) -
    (π - a)) of length off.
    """
    turned = [*corners[-1:], *corners, corners[0]]
    twice = sum(x0 * y1 - x1 * y0 for (x0, y0, _), (x1, y1, _) in pairwise(turned[1:]))
    area, length = abs(twice) / 2, sum(math.dist(a[:2], b[:2]) for a, b in pairwise(turned[1:]))
    for (px, py, _), (x, y, r), (nx, ny, _) in zip(turned, turned[1:], turned[2:], strict=False):
        cross = (x - px) * (ny - y) - (y - py) * (nx - x)
        dot = (px - x) * (nx - x) + (py - y) * (ny - y)
        angle = math.acos(dot / (math.dist((px, py), (x, y)) * math.dist((nx, ny), (x, y))))
        cot = 1 / math.tan(angle / 2)
        area -= math.copysign(1, cross * twice) * r * r * (cot - (math.pi - angle) / 2)
        length -= r * (2 * cot - (math.pi - angle))
    return Ring(area, length)


def box(width, height, radius=0.0):
    return polygon((0, 0, radius), (width, 0, radius), (width, height, radius), (0, height, radius))


def round_hole(diameter):
    return Ring(math.pi * diameter**2 / 4, math.pi * diameter)


def slot(length, width):
    """A slot with round ends, length over all: a rectangle and a circle."""
    return Ring((length - width) * width + math.pi * width**2 / 4, 2 * (length - width) + math.pi * width)


def lens(chord, bulge):
    """Two equal arcs between two points. Source: circular segment, r² (t - sin t) / 2 with t = 4 atan(bulge)."""
    t = 4 * math.atan(bulge)
    r = chord / 2 / math.sin(t / 2)
    return Ring(r * r * (t - math.sin(t)), 2 * r * t)


def bracket(arm, width, hole):
    outline = polygon((0, 0, 6), (arm, 0, 6), (arm, width, 6), (width, width, 10), (width, arm, 6), (0, arm, 6))
    return arm, arm, outline, [round_hole(hole)] * 2 + [slot(40, hole)]


def gusset(leg, cut, hole):
    corners = [(cut, 0, 0), (leg, 0, 8), (leg, 25, 0), (25, leg, 0), (0, leg, 8), (0, cut, 0)]
    return leg, leg, polygon(*corners), [round_hole(hole)]


def disc(outside, bore, *bolts):
    return outside, outside, round_hole(outside), [round_hole(d) for d in (bore, *bolts)]


def strap(length, width, hole, count):
    return length, width, slot(length, width), [round_hole(hole)] * count


def holed(width, height, radius, hole):
    return width, height, box(width, height, radius), [round_hole(hole)] * 4


def planter(width, height, count):
    windows = [*[lens(90, 0.45)] * count, *[lens(60, 0.45)] * count, *[round_hole(7)] * 4]
    return width, height, box(width, height, 12), windows


HOOK = Ring(
    # Foot, shank and bar, the half discs over and under the bar's end, the fillet in the inner corner.
    60 * 20 + 22 * 35 + 40 * 15 + math.pi * 20**2 / 2 - math.pi * 9**2 / 2 + (1 - math.pi / 4) * 10**2,
    60 + 70 + math.pi * 20 + 15 + math.pi * 9 + 25 + math.pi * 5 + 28 + 20,
)

SADDLE = 48.3  # The clamp sits on a tube of this diameter.
CLAMP = Ring(
    156.6 * 66 - 38 * 36 / 2 - 38.6 * 36 / 2 - (96.6 + SADDLE) / 2 * 24.15 - math.pi * SADDLE**2 / 8,
    2 * 30 + 2 * 24.15 * math.sqrt(2) + math.pi * SADDLE / 2 + 2 * 30 + math.hypot(38.6, 36) + 80 + math.hypot(38, 36),
)

# Source: area and perimeter of an ellipse with half axes 90 and 45, 4 a E(1 - b²/a²).
ELLIPSE = Ring(math.pi * 90 * 45, 4 * 90 * float(ellipe(1 - 0.25)))

LEAF = [(0, 0, 4), (120, 0, 20), (120, 60, 20), (0, 60, 4), (0, 42, 3), (-14, 42, 0), (-14, 18, 0), (0, 18, 3)]
KEEPER = [(0, 0, 5), (90, 0, 5), (90, 55, 5), (60, 55, 3), (60, 25, 8), (30, 25, 8), (30, 55, 3), (0, 55, 5)]
CHEEK = [(0, 0, 10), (160, 0, 10), (160, 45, 18), (95, 90, 18), (45, 90, 18), (0, 60, 10)]
FORK = [
    *((0, 0, 8), (38, 0, 8), (38, 34, 0), (52, 34, 0), (52, 0, 8), (90, 0, 8)),
    *((90, 70, 25), (60, 120, 12), (30, 120, 12), (0, 70, 25)),
]

SHEET = {
    "stall-bracket-left": bracket(180, 45, 9),
    "stall-bracket-right": bracket(180, 45, 9),
    "awning-hook": (60, 90, HOOK, [round_hole(7)]),
    "counter-gusset": gusset(160, 14, 22),
    "stall-foot": (140, 140, box(140, 140, 10), [round_hole(11)] * 4 + [box(50, 50, 6)]),
    "pole-clamp": (156.6, 66, CLAMP, [round_hole(9)] * 2),
    "sign-plate": holed(420, 160, 20, 6.5),
    "shelf-bracket": bracket(240, 38, 7),
    "tie-strap": strap(320, 30, 9, 5),
    "gate-hinge-leaf": (134, 60, polygon(*LEAF), [round_hole(8.5)] * 4),
    "hinge-strap": strap(260, 40, 10.5, 4),
    "latch-plate": holed(110, 60, 8, 6.5),
    "latch-keeper": (90, 55, polygon(*KEEPER), [round_hole(6.5)] * 2),
    "gate-corner-gusset": gusset(110, 10, 16),
    # A notch of 12 mm in each corner takes no length off.
    "post-cap": (84, 84, Ring(84**2 - 4 * 12**2, 4 * 84), [round_hole(6)]),
    "post-flange": disc(180, 82, *[13] * 4),
    "drop-bolt-guide": holed(70, 50, 6, 8.5),
    "handle-back": (150, 46, box(150, 46, 22.99), [slot(96, 22)]),
    "axle-gusset": gusset(130, 18, 25),
    "hitch-cheek": (160, 90, polygon(*CHEEK), [round_hole(16.5), *[round_hole(10.5)] * 3, slot(36, 12)]),
    "wheel-drop-out": (90, 120, polygon(*FORK), [round_hole(10.5)] * 2),
    "lamp-bracket": (101.6, 63.5, box(101.6, 63.5, 6.35), [round_hole(38.1), *[round_hole(6.35)] * 4]),
    "floor-grid": (420, 120, box(420, 120, 5), [slot(70, 14)] * 9),
    "tow-eye-flange": disc(110, 42, *[9] * 6),
    "hub-spacer": disc(64, 20.2),
    "planter-side": planter(800, 380, 7),
    "planter-end": planter(380, 380, 3),
    "planter-bottom": (400, 300, Ring(400 * 300 - 4 * 200, 2 * 620 + 80 * math.sqrt(2)), [round_hole(14)] * 12),
    "planter-corner": bracket(90, 30, 6.5),
    "trellis-panel": (
        *(560, 360, box(560, 360, 8)),
        [polygon((0, -30, 3), (34, 0, 3), (0, 30, 3), (-34, 0, 3))] * 24,
    ),
    "name-plate": (180, 90, ELLIPSE, [round_hole(5)] * 2),
}
"""Width, height, outline and holes of each drawing but the mudguard stay, which is drawn by splines."""

FITTED = {"name-plate"}
"""Curves that become arcs within 0.01 mm."""

SQUARE_40, SQUARE_50, RAIL = ("square", 40, 40, 3, 6), ("square", 50, 50, 3, 6), ("rectangular", 60, 40, 3, 6)
POLE, CROSS = ("round", 48.3, 48.3, 3, 0), ("round", 33.7, 33.7, 3, 0)

TUBE = {
    # Section, length, openings as flat holes in the wall, mitres of 45 degrees; through both walls counts twice.
    "trailer-side-rail": (RAIL, 1200, [round_hole(9)] * 8, 0),
    "trailer-cross-bar": (SQUARE_40, 640, [round_hole(11)] * 2, 0),
    "trailer-tow-bar": (SQUARE_50, 980, [*[round_hole(17)] * 2, slot(40, 12)], 1),
    "gate-post": (SQUARE_50, 1650, [round_hole(13)] * 3, 0),
    "gate-rail": (SQUARE_40, 920, [], 2),
    "gate-stile": (SQUARE_40, 1100, [slot(30, 8)] * 3, 0),
    "stall-pole": (POLE, 2150, [round_hole(8.5)] * 4, 0),
    "stall-cross-tube": (CROSS, 1480, [round_hole(8.5)] * 4, 0),
}

# Source: EN 10219-2 tables, cm² of 40x40x3, 50x50x3, 60x40x3, 48.3x3 and 33.7x3.
PRINTED_CM2 = {SQUARE_40: 4.21, SQUARE_50: 5.41, RAIL: 5.41, POLE: 4.27, CROSS: 2.89}

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The files as the command writes them."""
    home = tmp_path_factory.mktemp("demo")
    command = [sys.executable, str(ROOT / "manage.py"), "demo", "--files", str(home / "files")]
    environment = {**os.environ, "SHOP_DATA": str(home / "data"), "DJANGO_SETTINGS_MODULE": "shopfloor.settings"}
    subprocess.run(command, check=True, timeout=300, capture_output=True, env=environment)
    return home / "files"


@pytest.fixture
def read(folder, capsys):
    def answer(name, *options):
        code = main(["read", str(folder / name), *options])
        printed = capsys.readouterr()
        return code, json.loads(printed.out), printed.err

    return answer


def codes(answer):
    return {finding["code"] for finding in answer["findings"]}


def test_the_table_names_every_file(folder):
    tables = {*(f"{name}.dxf" for name in SHEET), *(f"{name}.step" for name in TUBE), "gate-frame.step"}
    others = {"mudguard-stay.dxf", "kick-plate.dxf", "letter-flap.dxf"}
    assert {path.name for path in folder.iterdir()} == tables | others
    assert set(SHEET) | {"mudguard-stay"} == set(SHEET_PARTS)


@pytest.mark.parametrize("name", SHEET)
def test_a_sheet_part_is_what_was_drawn(read, name):
    width, height, outline, holes = SHEET[name]
    code, answer, said = read(f"{name}.dxf")
    assert (code, said, answer["kind"], answer["file"]) == (0, "", "sheet", f"{name}.dxf")
    (part,) = answer["parts"]
    slack = 0.02 if name in FITTED else 2e-6
    assert part["bbox_mm"] == pytest.approx([width, height], abs=slack)
    length = outline.length + sum(hole.length for hole in holes)
    assert part["area_mm2"] == pytest.approx(outline.area - sum(hole.area for hole in holes), abs=slack * length)
    assert part["cut_length_mm"] == pytest.approx(length, rel=2e-4 if name in FITTED else 1e-8)
    assert (part["holes"], part["pierces"]) == (len(holes), 1 + len(holes))
    assert answer["unit"] == ("inch" if name == "lamp-bracket" else "mm")
    assert not {finding["code"] for finding in answer["findings"] if finding["severity"] in ("refusal", "question")}
    assert ("unit-converted" in codes(answer)) == (name == "lamp-bracket")
    assert ("curves-fitted" in codes(answer)) == (name in FITTED)


def test_the_stay_is_what_a_drawing_library_makes_of_its_splines(read, folder):
    code, answer, _ = read("mudguard-stay.dxf")
    assert (code, answer["kind"]) == (0, "sheet")
    (part,) = answer["parts"]
    # Source: points that ezdxf itself lays on its curves, within 1 um, and shapely.
    points = []
    for entity in ezdxf.readfile(folder / "mudguard-stay.dxf").modelspace().query("SPLINE LINE"):
        run = entity.flattening(1e-3) if entity.dxftype() == "SPLINE" else (entity.dxf.start, entity.dxf.end)
        points += [(p.x, p.y) for p in run]
    stay = Polygon(points)
    left, bottom, right, top = stay.bounds
    assert part["bbox_mm"] == pytest.approx([right - left, top - bottom], abs=0.02)
    assert part["area_mm2"] == pytest.approx(stay.area - 2 * round_hole(6.5).area, abs=0.01 * stay.length)
    assert part["cut_length_mm"] == pytest.approx(stay.length + 2 * round_hole(6.5).length, rel=2e-4)
    assert (part["holes"], part["pierces"]) == (2, 3)


@pytest.mark.parametrize("name", TUBE)
def test_a_tube_is_what_was_modelled(read, name):
    (shape, height, width, wall, corner), length, openings, mitres = TUBE[name]
    code, answer, said = read(f"{name}.step")
    assert (code, said, answer["kind"], answer["unit"]) == (0, "", "tube", "mm")
    (part,) = answer["parts"]
    section = part["section"]
    size = {"diameter_mm": height} if shape == "round" else {"height_mm": height, "width_mm": width}
    assert section == pytest.approx({"shape": shape, **size, "wall_mm": wall, "corner_radius_mm": corner}, abs=1e-4)
    assert part["length_mm"] == pytest.approx(length, abs=1e-3)
    assert part["area_mm2"] / 100 == pytest.approx(PRINTED_CM2[TUBE[name][0]], abs=0.005)
    assert (part["holes"], part["pierces"]) == (len(openings), 1 + len(openings))
    assert [end["kind"] for end in part["ends"]].count("mitre") == mitres
    assert [end["angle_deg"] for end in part["ends"] if end["kind"] == "mitre"] == pytest.approx([45.0] * mitres)
    assert part["square_ends"] == (mitres == 0)
    # Both long points of the gate's rail lie on one side, as in a frame.
    assert len({end["towards_deg"] for end in part["ends"] if end["kind"] == "mitre"}) == min(1, mitres)
    # Source: a plane through a symmetrical section takes what a square cut at its middle takes, half the height.
    # The wall over a hole in round tube is a little thicker than flat: by less than a fifth for these.
    metal = part["area_mm2"] * (length - mitres * height / 2)
    flat = sum(opening.area for opening in openings) * wall
    volume = part["mass_kg"] / (STEEL_KG_M3 * 1e-9)
    if shape == "round":
        assert metal - 1.2 * flat < volume < metal - flat + 1.0
    else:
        assert volume == pytest.approx(metal - flat, rel=1e-6)
    if not mitres:
        girth = math.pi * height if shape == "round" else box(height, width, corner).length
        round_about = 2 * girth + sum(opening.length for opening in openings)
        assert part["cut_length_mm"] == pytest.approx(round_about, rel=2e-3 if shape == "round" else 1e-6)


def test_the_frame_is_two_parts_of_which_each_is_there_twice(read):
    code, answer, said = read("gate-frame.step")
    assert (code, said, answer["kind"]) == (0, "", "tube")
    assert [part["count"] for part in answer["parts"]] == [2, 2]
    for part, length in zip(answer["parts"], (900, 1100), strict=True):
        assert part["length_mm"] == pytest.approx(length, abs=1e-3)
        assert [(end["kind"], end["angle_deg"]) for end in part["ends"]] == [("mitre", pytest.approx(45.0))] * 2
        assert part["ends"][0]["towards_deg"] == part["ends"][1]["towards_deg"]
        # Source: as for the single tubes, a plane through the middle takes half the height at either end.
        volume = part["area_mm2"] * (length - 40)
        assert part["mass_kg"] == pytest.approx(volume * STEEL_KG_M3 * 1e-9, rel=1e-6)


def test_the_tubes_of_the_frame_meet_without_a_gap_and_without_overlap():
    # Source: by hand, two tubes of a frame share the cut at a corner: their common face has the metal's area over the
    # cosine of the mitre, and no volume.
    solids = [tube_solid(tube) for tube in FRAME_TUBES]
    metal = PRINTED_CM2[SQUARE_40] * 100
    for rail in solids[:2]:
        for stile in solids[2:]:
            assert volume_of(BRepAlgoAPI_Common(rail, stile).Shape()) == pytest.approx(0.0, abs=1e-3)
            both = BRepAlgoAPI_Fuse(rail, stile).Shape()
            shared = area_of(rail) + area_of(stile) - area_of(both)
            assert shared == pytest.approx(2 * metal * math.sqrt(2), rel=2e-3)


def volume_of(shape):
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, properties)
    return properties.Mass()


def area_of(shape):
    properties = GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape, properties)
    return properties.Mass()


def test_the_open_drawing_is_refused_with_its_place_and_its_gap(read):
    code, answer, said = read("kick-plate.dxf")
    assert (code, answer["kind"]) == (2, "refused")
    (fault,) = answer["findings"]
    assert (fault["code"], fault["severity"]) == ("open-contour", "refusal")
    assert fault["at"] in ([0.0, 0.0], [0.0, 0.6])
    assert said.startswith("nesting: kick-plate.dxf: ")
    assert "open by 0.6 mm" in said


def test_the_drawing_without_a_unit_asks_and_is_read_once_it_is_told(read):
    code, answer, said = read("letter-flap.dxf")
    assert (code, answer["kind"], codes(answer)) == (2, "refused", {"unit-unknown"})
    assert "8.0 x 4.0 mm" in said
    assert "203.2 x 101.6 mm" in said
    code, answer, said = read("letter-flap.dxf", "--unit", "inch")
    assert (code, answer["kind"], said) == (0, "sheet", "")
    (part,) = answer["parts"]
    # Source: by hand, 8 x 4 inches less a circle of 1 inch, 25.4 mm each.
    assert part["bbox_mm"] == pytest.approx([203.2, 101.6])
    assert part["area_mm2"] == pytest.approx((32 - math.pi / 4) * 25.4**2, rel=1e-9)
    assert part["cut_length_mm"] == pytest.approx((24 + math.pi) * 25.4, rel=1e-9)
