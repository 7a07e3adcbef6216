from decimal import Decimal

import pytest

from nesting.model.findings import Severity
from nesting.model.part import TubePart
from nesting.model.section import Section
from shopfloor.stock.forms import SectionForm
from shopfloor.stock.models import TubeSection
from shopfloor.stock.sections import matched_section, section_findings
from tests.factories.stock import TubeSectionFactory
from tests.nesting.model.test_section import SHAPES

pytestmark = pytest.mark.django_db


def test_a_section_is_known_again_within_what_drawings_are_off():
    known = TubeSectionFactory()
    for read in (Section.box(40, 40, 3, 6), Section.box(40.2, 40.2, 2.9, 6.6), Section.box(39.9, 39.9, 3.05, 5.4)):
        assert matched_section(read) == known
    assert TubeSection.objects.count() == 1


@pytest.mark.parametrize(
    "read",
    [
        Section.box(40.21, 40.21, 3, 6),
        Section.box(40, 40, 3.11, 6),
        Section.box(40, 40, 3, 6.7),
        Section.box(40, 39, 3, 6),
        Section.round(40, 3),
    ],
    ids=["outside", "wall", "corner", "shape", "round"],
)
def test_another_section_becomes_a_row_of_its_own_once(read):
    known = TubeSectionFactory()
    added = matched_section(read)
    assert added != known
    assert added.noun.height == read.height
    assert matched_section(read) == added
    assert TubeSection.objects.count() == 2


def test_the_nearest_of_several_known_ones_is_taken():
    TubeSectionFactory(corner_radius_mm=Decimal("5.5"))
    nearer = TubeSectionFactory(corner_radius_mm=Decimal(6))
    assert matched_section(Section.box(40, 40, 3, 5.9)) == nearer


def test_cold_formed_and_hot_finished_tube_of_one_size_stay_apart():
    # Source: EN 10219-2 and EN 10210-2, nominal corner radii for sectional properties: cold formed with a wall up to
    # 6 mm 2 T outside, hot finished 1.5 T outside.
    cold, hot = matched_section(Section.box(60, 60, 4, 8)), matched_section(Section.box(60, 60, 4, 6))
    assert cold != hot


def test_eight_files_with_a_new_section_at_once_add_one_row(at_once):
    rows = at_once(8, lambda _: matched_section(Section.round(48.3, 3)).pk)
    assert len(set(rows)) == 1
    assert TubeSection.objects.count() == 1


@pytest.mark.parametrize("section", SHAPES, ids=str)
def test_every_shape_becomes_a_row_that_says_it_and_can_be_edited(section):
    row = matched_section(section)
    row.refresh_from_db()
    assert str(row) == str(section)
    assert row.noun.mass(1000, 7850) == pytest.approx(section.mass(1000, 7850), rel=0.02)  # hot finished corners differ
    assert matched_section(section) == row
    fields = {name: getattr(row, name) for name in SectionForm.Meta.fields}
    assert SectionForm(fields, instance=row).is_valid()


def test_angles_of_other_root_and_channels_of_other_flange_stay_apart():
    rows = {matched_section(Section.angle(50, 50, 5, root)).pk for root in (0, 5, 7)}
    rows |= {matched_section(Section.channel(100, 50, 5, flange)).pk for flange in (5, 7.5, 8.5)}
    assert len(rows) == 6


def test_a_profile_that_cannot_be_is_refused_in_words():
    sent = {"shape": "channel", "height_mm": 50, "width_mm": 40, "wall_mm": 4, "corner_radius_mm": 0}
    rest = {"root_radius_mm": 0, "toe_radius_mm": 0}
    form = SectionForm(sent | rest | {"flange_mm": 30})
    assert not form.is_valid()
    assert "leave no room between the legs" in str(form.errors)
    assert "does not belong to channel" in str(SectionForm(sent | rest | {"flange_mm": 0}).errors)
    assert SectionForm(sent | rest | {"flange_mm": 6}).is_valid()


def told(*sections):
    return section_findings(TubePart(f"leg-{k}", section, 500.0) for k, section in enumerate(sections, 1))


def test_what_the_shop_knows_as_drawn_or_not_at_all_needs_no_word():
    assert told(Section.box(40, 40, 3, 6)) == []
    TubeSectionFactory()
    assert told(Section.box(40, 40, 3, 6), Section.box(40, 20, 3, 6), Section.round(40, 3)) == []


def test_a_section_that_is_taken_although_it_differs_is_said_once():
    TubeSectionFactory(standard="EN 10219-2")
    (finding,) = told(Section.box(40, 40, 2.95, 5.5), Section.box(40, 40, 2.95, 5.5))
    assert (finding.code, finding.severity) == ("section-near", Severity.NOTE)
    assert finding.message == (
        "leg-1 is taken for the shop's square 40 x 40 x 3 (EN 10219-2), although drawn with a wall of 2.95 mm instead "
        "of 3 mm and an outer corner radius of 5.5 mm instead of 6 mm."
    )


@pytest.mark.parametrize(
    ("read", "words"),
    [
        # Source: EN 10219-2 and EN 10210-2: corner radius 2 T cold formed up to 6 mm of wall, 1.5 T hot finished
        (Section.box(40, 40, 3, 4.5), "drawn with an outer corner radius of 4.5 mm instead of 6 mm, so it is not"),
        (Section.box(40.6, 40.6, 3, 6), "drawn with a height of 40.6 mm instead of 40 mm, so"),
        (Section.box(40, 40, 3.2, 6), "a wall of 3.2 mm instead of 3 mm"),
    ],
    ids=str,
)
def test_a_near_section_is_named_and_not_taken(read, words):
    known = TubeSectionFactory()
    (finding,) = told(read)
    assert (finding.code, finding.severity) == ("section-other", Severity.WARNING)
    assert words in finding.message
    assert matched_section(read) != known
    assert told(read) == []  # now it is known as drawn
