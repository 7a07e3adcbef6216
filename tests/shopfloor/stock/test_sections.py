from decimal import Decimal

import pytest

from nesting.model.section import Section
from shopfloor.stock.models import TubeSection
from shopfloor.stock.sections import matched_section
from tests.factories.stock import TubeSectionFactory

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
