import pytest
from hypothesis import given, settings
from shapely.geometry import Polygon

from nesting.export.svg_part import part_svg, part_svgs
from nesting.geometry.contour import Contour, Path
from nesting.model.part import SheetPart, TubePart
from nesting.model.section import Section
from tests.nesting.export.test_svg_tube_views import part_of
from tests.strategies import sheet_parts
from tests.svg_again import Drawn, runs_of

PANEL = SheetPart(
    "panel", Contour.rectangle(620, 300), (Contour.circle(100, 100, 20),), (Path(((20, 20, 0), (90, 20, 0))),)
)


@given(sheet_parts())
@settings(max_examples=40)
def test_a_part_is_drawn_as_it_is(part):
    made = Drawn(part_svg(part))
    (group,) = made.all("g", "piece")
    outer, *holes = runs_of(group[0].get("d"))
    assert Polygon(outer, holes).area == pytest.approx(part.area, rel=2e-3)
    assert group[0].get("fill-rule") == "evenodd"


def test_a_part_carries_width_and_height():
    words = Drawn(part_svg(PANEL)).words()
    assert words == ["620\u202fmm", "300\u202fmm"]


def test_marks_are_drawn_apart():
    made = Drawn(part_svg(PANEL))
    assert runs_of(made.all("path", "marks")[0].get("d")) == [[(20, 20), (90, 20)]]


def test_title_and_description_name_the_part():
    made = Drawn(part_svg(PANEL))
    assert made.root.get("aria-label") == "panel"
    assert made.root.get("role") == "img"
    assert made.all("desc")[0].text.replace("\u202f", " ") == "620 mm wide, 300 mm high, 1 hole."


@pytest.mark.parametrize(("width", "height"), [(2000.0, 8.0), (8.0, 2000.0), (5.0, 5.0)])
def test_measures_of_narrow_parts_stay_inside_the_picture(width, height):
    made = Drawn(part_svg(SheetPart("strip", Contour.rectangle(width, height))))
    left, top, wide, tall = made.box
    lower, side = made.all("text")
    half = 0.3 * float(lower.get("font-size")) * len(lower.text)
    assert left <= float(lower.get("x")) - half
    assert float(lower.get("x")) + half <= left + wide
    middle = float(side.get("transform").split("(")[1].split(")")[0].split()[1])
    half = 0.3 * float(side.get("font-size")) * len(side.text)
    assert top <= middle - half
    assert middle + half <= top + tall


def test_a_tube_part_gets_the_picture_of_a_tube():
    assert "tube-picture" in part_svg(TubePart("post", Section.round(48.3, 3.2), 900.0))


def test_a_tube_whose_ends_are_known_is_drawn_from_its_sides_at_a_slant_and_flat():
    tube = part_of(Section.round(48.3, 3.2))
    assert 'data-side="back"' in part_svg(tube)
    assert list(part_svgs(tube)) == ["sides", "unrolled", "slanted-0", "slanted-90", "slanted-180", "slanted-270"]
    assert list(part_svgs(PANEL)) == ["flat"]


def test_the_four_pictures_at_a_slant_are_each_rolled_a_quarter_further():
    drawn = part_svgs(part_of(Section.box(60.0, 40.0, 3.0, 6.0)))
    slanted = [drawn[f"slanted-{turn}"]() for turn in (0, 90, 180, 270)]
    assert len(set(slanted)) == 4
    assert ["rolled by" in each for each in slanted] == [False, True, True, True]


def test_a_tube_of_which_the_length_alone_is_known_has_one_picture():
    drawn = part_svgs(TubePart("post", Section.round(48.3, 3.2), 900.0))
    assert [name for name, draw in drawn.items() if "tube-picture" in draw()] == ["sides"]
