from dataclasses import replace

import pytest

from nesting.export.svg_tube_unrolled import unrolled_svg
from nesting.model.findings import Finding, Severity
from nesting.model.section import Section
from tests.nesting.export.test_svg_tube_views import BOX, TOP, hole, part_of
from tests.nesting.model.test_section import SHAPES
from tests.svg_again import Drawn


def test_the_flat_surface_shows_length_girth_ends_and_cut_outs():
    made = Drawn(unrolled_svg(part_of(BOX, cuts=[hole(100.0, TOP)])))
    words = [word.replace("\u202f", " ") for word in made.words()]
    assert words[:2] == ["300 mm", f"{BOX.girth:.1f} mm"]
    assert words[2] == "wall 3 mm, outside corner radius 6 mm"
    assert words[3:] == ["start: square", "end: square", "round hole ⌀ 12 mm, top, 100 mm from the start"]
    outline, cut = [path.get("d") for path in made.all("g", "piece")[0]]
    assert outline.startswith("M0 0L0 -189.699")
    assert cut.startswith("M106 -47.4")
    assert "A6 6" in cut  # circles stay circles


def test_a_cut_out_over_the_opened_edge_is_drawn_at_both():
    made = Drawn(unrolled_svg(part_of(BOX, cuts=[hole(100.0, 0.0)])))
    assert made.all("g", "piece")[0][1].get("d").count("M") == 2


def test_a_long_tube_is_drawn_with_breaks_at_its_true_length():
    made = Drawn(unrolled_svg(part_of(BOX, 6000.0)))
    assert "6 000 mm" in made.words()[0].replace("\u202f", " ")
    assert len(made.all("path", "hidden")) == 1
    assert made.box[2] < 1000


def test_findings_are_numbered_where_they_are():
    findings = [Finding("a", Severity.NOTE, "No place."), Finding("b", Severity.WARNING, "Here.", (70.0, 20.0))]
    (pin,) = Drawn(unrolled_svg(part_of(BOX), findings)).all("g", "pin")
    assert pin.get("data-finding") == "2"
    circle = next(each for each in pin if each.tag.endswith("circle"))
    assert (float(circle.get("cx")), float(circle.get("cy"))) == (70.0, -20.0)


@pytest.mark.parametrize("section", [*SHAPES, Section.round(20, 1)], ids=str)
def test_every_section_is_laid_flat_with_or_without_known_ends(section):
    for part in (part_of(section, 2000.0), replace(part_of(section), ends=None)):
        left, top, width, height = Drawn(unrolled_svg(part)).box
        assert top <= -section.girth
        assert width > 0 < height
        assert left < 0
