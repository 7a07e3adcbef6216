import pytest
from django.db import IntegrityError, transaction

from shopfloor.parts.models import Drawing, DrawingState
from tests.factories.parts import DrawingFactory, part_row, plate, sheet_part, tube, tube_part

pytestmark = pytest.mark.django_db


def test_there_is_one_drawing_a_content_name_and_answer():
    first = DrawingFactory()
    DrawingFactory(digest=first.digest, name=first.name, unit="inch")
    with pytest.raises(IntegrityError), transaction.atomic():
        DrawingFactory(digest=first.digest, name=first.name)


def test_a_tube_part_has_a_section_and_a_sheet_part_has_none():
    for part, section in ((tube_part(), None), (sheet_part(), tube_part().section)):
        with pytest.raises(IntegrityError, match="a_tube_part_has_a_section"), transaction.atomic():
            type(part).objects.filter(pk=part.pk).update(section=section)


def test_parts_stand_at_different_places_of_their_drawing():
    first = sheet_part()
    with pytest.raises(IntegrityError), transaction.atomic():
        part_row(plate("other"), first.drawing, position=1)
    part_row(plate("other"), first.drawing, position=2)


def test_a_part_comes_back_as_the_noun_it_was_stored_from():
    for noun in (plate("bracket", 120, 80, hole=12), tube("rail", 1234.5)):
        stored = part_row(noun)
        stored.refresh_from_db()
        assert stored.noun == noun


def test_the_mass_of_a_sheet_part():
    # Source: by hand, 200 × 100 × 5 mm × 7850 kg/m³.
    assert sheet_part(length=200, width=100).mass_kg(5, 7850) == pytest.approx(0.785)


@pytest.mark.parametrize("state", DrawingState)
def test_reading_has_come_to_an_end_in_three_states(state):
    drawing = Drawing(state=state)
    assert drawing.is_settled == (state in {DrawingState.USABLE, DrawingState.REFUSED, DrawingState.FAILED})
    assert drawing.findings == []


@pytest.mark.parametrize(
    ("codes", "offered"),
    [
        ({"small-gap": "refusal"}, True),
        ({"small-gap": "refusal", "unit-unknown": "question", "joined": "note"}, True),
        ({"small-gap": "refusal", "open-contour": "refusal"}, False),
        ({"open-contour": "refusal"}, False),
        ({"joined": "note"}, False),
        ({}, False),
    ],
)
def test_joining_is_offered_where_small_gaps_are_all_that_is_wrong(codes, offered):
    findings = [{"code": code, "severity": severity, "message": ".", "at": None} for code, severity in codes.items()]
    assert Drawing(reading={"findings": findings}).may_be_joined == offered
