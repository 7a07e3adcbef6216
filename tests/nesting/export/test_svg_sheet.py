import math
import re

import pytest
from hypothesis import given, settings
from shapely.affinity import affine_transform
from shapely.geometry import Point, Polygon

from nesting.errors import BadValue
from nesting.export.pieces import pieces_on_sheet
from nesting.export.svg_sheet import sheet_svg
from nesting.geometry.contour import Contour, Path
from nesting.geometry.placing import turn_vector
from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout, SheetNest, SheetRules, Sides
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from tests.strategies import names, sheet_nests
from tests.svg_again import Drawn, runs_of

GUSSET = SheetPart("gusset", Contour(((0, 0, 0), (180, 0, 0), (180, 25, 0), (25, 180, 0), (0, 180, 0))))
PANEL = SheetPart(
    "panel", Contour.rectangle(300, 120), (Contour.circle(250, 60, 30),), (Path(((20, 60, 0), (90, 60, 0))),)
)


RULES = SheetRules(5, 10)


def nest_of(*parts, placements=None, sheet=None, rules=RULES, copies=1):
    sheet = sheet or Sheet.rectangle("1000x500", 1000, 500)
    job = SheetJob((sheet,), rules, tuple(Demand(part, 1) for part in parts))
    placements = placements or [Placement(part.name, 20.0 + 320 * i, 30.0) for i, part in enumerate(parts)]
    return SheetNest(job, (SheetLayout(sheet.name, tuple(placements), copies),))


def moved(transform, ring):
    """The points of a ring under an SVG transform list.

    Source: W3C, SVG 1.1, 7.6: the right-most transform is applied first, and rotate(a) is clockwise on a screen.
    """
    points = Polygon(ring)
    for name, values in reversed(re.findall(r"(\w+)\(([^)]*)\)", transform)):
        numbers = [float(value) for value in values.split()]
        if name == "translate":
            matrix = [1, 0, 0, 1, numbers[0], -numbers[1]]
        elif name == "rotate":
            cos, sin = turn_vector(-numbers[0])
            matrix = [cos, -sin, sin, cos, 0, 0]
        else:
            assert (name, numbers) == ("scale", [-1, 1])
            matrix = [-1, 0, 0, 1, 0, 0]
        points = affine_transform(points, matrix)
    return points


def by_number(made):
    """The drawn pieces, whatever lies on top of what."""
    return sorted(made.all("g", "piece"), key=lambda group: int(group.get("data-piece")))


@given(sheet_nests())
@settings(max_examples=25)
def test_pieces_are_drawn_where_they_lie(nest):
    made = Drawn(sheet_svg(nest, 0))
    shapes = {group.get("id"): group[0].get("d") for group in made.all("defs")[0]}
    pieces = pieces_on_sheet(nest, 0)[2]
    groups = by_number(made)
    assert [group.get("data-piece") for group in groups] == [str(piece.number) for piece in pieces]
    for group, piece in zip(groups, pieces, strict=True):
        use = next(each for each in group if each.tag.endswith("use"))
        outer = runs_of(shapes[use.get("href")[1:]])[0]
        # A turn is rounded to a thousandth of a degree, which moves the end of a 100 mm part by 1 um.
        assert moved(use.get("transform"), outer).hausdorff_distance(Polygon(piece.outer.polygon(1e-3))) < 0.1


@given(sheet_nests())
@settings(max_examples=25)
def test_numbers_stand_upright_on_their_piece(nest):
    made = Drawn(sheet_svg(nest, 0))
    for group, piece in zip(by_number(made), pieces_on_sheet(nest, 0)[2], strict=True):
        label = next(each for each in group if each.tag.endswith("text"))
        assert label.text == str(piece.number)
        assert label.get("transform") is None
        size = float(label.get("font-size"))
        middle = Point(float(label.get("x")), -float(label.get("y")) + 0.36 * size)
        metal = Polygon(piece.outer.polygon(1e-3))
        for hole in piece.holes:
            metal = metal.difference(Polygon(hole.polygon(1e-3)))
        assert metal.covers(middle)
        # Capitals and figures are about 0.72 of the size tall in common fonts: they do not leave the metal upwards.
        assert metal.buffer(2e-3).covers(middle.buffer(0.36 * size - 0.01, quad_segs=1))


@given(names)
def test_any_name_makes_a_well_formed_picture(name):
    part = SheetPart(name, Contour.rectangle(100, 50))
    made = Drawn(sheet_svg(nest_of(part, sheet=Sheet.rectangle(name, 1000, 500)), 0))
    assert len(made.all("g", "piece")) == 1


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", 'a" onload="x', "a & b", "it's", "ø 40 – ½\u2033"])
def test_names_are_escaped_and_come_back_whole(name):
    made = Drawn(sheet_svg(nest_of(SheetPart(name, Contour.rectangle(100, 50))), 0))
    (piece,) = made.all("g", "piece")
    assert piece.get("data-part") == name
    assert [each.text for each in piece if each.tag.endswith("title")] == [f"1 {name}"]
    assert "<script" not in made.source
    assert set(piece.keys()) == {"class", "data-piece", "data-part", "tabindex"}


def test_parts_of_one_name_are_drawn_once_and_used():
    placements = [Placement("gusset", 20, 20), Placement("gusset", 400, 20, 90.0), Placement("panel", 600, 20)]
    made = Drawn(sheet_svg(nest_of(GUSSET, PANEL, placements=placements), 0))
    assert len(made.all("defs")[0]) == 2
    uses = [next(each.get("href") for each in group if each.tag.endswith("use")) for group in by_number(made)]
    assert uses[0] == uses[1] != uses[2]


def test_two_pictures_on_one_page_share_a_name_only_for_the_same_shape():
    small = SheetPart("gusset", Contour.rectangle(50, 50))
    marked = SheetPart("gusset", GUSSET.outer, (), (Path(((20, 20, 0), (40, 20, 0))),))
    ids = [Drawn(sheet_svg(nest_of(part), 0)).all("defs")[0][0].get("id") for part in (GUSSET, small, marked, GUSSET)]
    assert ids[0] == ids[3]
    assert len(set(ids)) == 3


def test_holes_are_open():
    made = Drawn(sheet_svg(nest_of(PANEL), 0))
    shape = made.all("defs")[0][0][0]
    assert shape.get("fill-rule") == "evenodd"
    assert shape.get("d").count("M") == 2


def test_holes_are_touched_with_their_piece_and_what_lies_in_them_lies_on_top():
    frame = SheetPart("frame", Contour.rectangle(300, 300), (Contour.rectangle(280, 280, 10, 10),))
    ring = SheetPart("ring", Contour.circle(0, 0, 100), (Contour.circle(0, 0, 80),))
    washer = SheetPart("washer", Contour.circle(0, 0, 20))
    placements = [Placement("washer", 150, 150), Placement("ring", 150, 150), Placement("frame", 0, 0)]
    made = Drawn(sheet_svg(nest_of(washer, ring, frame, placements=placements), 0))
    assert [group.get("data-part") for group in made.all("g", "piece")] == ["frame", "ring", "washer"]
    touched = [each for each in made.all("path") if each.get("pointer-events") == "all"]
    assert [(each.get("fill"), each.get("stroke")) for each in touched] == [("none", "none")] * 2
    areas = sorted(Polygon(runs_of(each.get("d"))[0]).area for each in touched)
    assert areas == pytest.approx([math.pi * 80**2, 280**2], rel=0.01)


def test_the_margin_is_dashed_inside_the_edge():
    made = Drawn(sheet_svg(nest_of(GUSSET), 0))
    (run,) = runs_of(made.all("path", "margin")[0].get("d"))
    assert Polygon(run).bounds == (10, 10, 990, 490)
    assert "stroke-dasharray" in re.search(r"\.margin\{([^}]*)\}", made.source)[1]


def test_a_margin_follows_the_outline_of_a_remnant():
    outline = Contour(((0, 0, 0), (900, 0, 0), (900, 400, 0), (300, 400, 0), (300, 800, 0), (0, 800, 0)))
    made = Drawn(sheet_svg(nest_of(GUSSET, sheet=Sheet("remnant 7", outline, is_remnant=True)), 0))
    (run,) = runs_of(made.all("path", "margin")[0].get("d"))
    # Source: by hand, the outline 10 mm further in: 880 x 380 and 280 x 400 upon it.
    assert Polygon(run).area == pytest.approx(880 * 380 + 280 * 400)


def test_strips_that_stay_free_are_hatched_and_named():
    rules = SheetRules(5, 10, sides=Sides(left=60, top=2500))
    made = Drawn(sheet_svg(nest_of(GUSSET, rules=rules, placements=[Placement("gusset", 300, 100)]), 0))
    left, top = made.all("path", "hatch")
    assert [each[0].text for each in (left, top)] == [
        "Kept free, left: 60\u202fmm",
        "Kept free, top: 2\u202f500\u202fmm",
    ]
    outline, *lines = runs_of(left.get("d"))
    assert outline == [(0, 0), (60, 0), (60, 500), (0, 500), (0, 0)]
    assert len(lines) > 10
    # A strip wider than the sheet is drawn as far as there is a sheet.
    assert runs_of(top.get("d"))[0] == [(0, 0), (1000, 0), (1000, 500), (0, 500), (0, 0)]


def test_no_strip_draws_no_hatching():
    assert Drawn(sheet_svg(nest_of(GUSSET), 0)).all("path", "hatch") == []


def test_no_margin_and_a_margin_wider_than_the_sheet_draw_no_line():
    for margin in (0.0, 300.0):
        assert Drawn(sheet_svg(nest_of(GUSSET, rules=SheetRules(5, margin)), 0)).all("path", "margin") == []


def test_a_remnant_is_drawn_with_its_size():
    made = Drawn(sheet_svg(nest_of(GUSSET), 0, Contour.rectangle(400, 500, 600, 0)))
    (group,) = [each for each in made.all("g") if each.get("data-remnant")]
    assert group.get("data-remnant") == "400 500"
    assert "remnant 400 mm × 500 mm".replace(" mm", "\u202fmm") in made.words()


def test_title_and_description_say_what_is_on_the_sheet():
    placements = [Placement("gusset", 20, 20), Placement("panel", 600, 20), Placement("gusset", 400, 20)]
    made = Drawn(sheet_svg(nest_of(GUSSET, PANEL, placements=placements, copies=3), 0))
    assert made.root.get("aria-label") == "Sheet 1 of 1: 1000x500"
    assert made.all("desc")[0].text == "3 pieces: 2 gusset, 1 panel. To be cut 3 times."


def test_only_the_first_piece_is_a_stop_of_the_tab_key():
    made = Drawn(sheet_svg(nest_of(GUSSET, PANEL), 0))
    assert [group.get("tabindex") for group in by_number(made)] == ["0", "-1"]


def test_the_sheet_carries_its_measures():
    words = Drawn(sheet_svg(nest_of(GUSSET), 0)).words()
    assert "1\u202f000\u202fmm" in words
    assert "500\u202fmm" in words


def test_kinds_of_part_differ_in_fill():
    made = Drawn(sheet_svg(nest_of(GUSSET, PANEL), 0))
    assert [group.get("class") for group in by_number(made)] == ["piece k1", "piece k2"]


def test_a_picture_of_5000_pieces_stays_under_a_megabyte():
    washer = SheetPart("washer M10", Contour.circle(0, 0, 10), (Contour.circle(0, 0, 5.25),))
    placements = [
        Placement("washer M10", 20.123 + 22.217 * (k % 100), 20.456 + 22.113 * (k // 100), 90.0) for k in range(5000)
    ]
    nest = nest_of(washer, placements=placements, sheet=Sheet.rectangle("big", 3000, 1500))
    made = sheet_svg(nest, 0)
    assert len(made.encode()) < 1_000_000
    assert len(Drawn(made).all("g", "piece")) == 5000


def test_a_sheet_that_is_not_there_is_refused():
    with pytest.raises(BadValue, match="there is none numbered 2"):
        sheet_svg(nest_of(GUSSET), 1)


def test_an_empty_sheet_is_Drawn():
    job = SheetJob((Sheet.rectangle("s", 100, 100),), SheetRules(), (Demand(GUSSET, 1),))
    made = Drawn(sheet_svg(SheetNest(job, (SheetLayout("s", ()),)), 0))
    assert made.all("desc")[0].text == "No pieces."
    assert made.all("g", "piece") == []
