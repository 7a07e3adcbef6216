"""The page of one part, and its pictures one by one."""

import pytest
from django.urls import reverse

from tests.factories.parts import DrawingFactory, part_row, plate, sheet_part, tube, tube_part

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(client, people):
    client.force_login(people.office)
    return client


def page_of(office, part, **asked):
    answer = office.get(reverse("parts:part-show", args=[part.pk]), asked)
    assert answer.status_code == 200
    return answer.text


def picture_of(office, part, name):
    return office.get(reverse("parts:part-picture", args=[part.pk, name]))


def test_a_tube_is_told_by_its_section_length_and_ends(office):
    page = page_of(office, tube_part(length=920.0, mitre=45.0))
    for words in ("square 40 x 40 x 3", "920", "mitre 45°, long point at the top", 'data-side="back"'):
        assert words in page


def test_a_tube_is_rolled_by_quarter_turns_and_comes_round(office):
    part = tube_part(mitre=45.0)
    drawn = []
    for turn in range(4):
        page = page_of(office, part, view="slanted", turn=turn)
        assert f"<span data-rolled>{90 * turn}</span>" in page
        assert f"view=slanted&amp;turn={(turn + 1) % 4}" in page
        assert f"view=slanted&amp;turn={(turn - 1) % 4}" in page
        drawn.append(picture_of(office, part, f"slanted-{90 * turn}").text)
        assert drawn[-1].partition("</style>")[2] in page
    assert len(set(drawn)) == 4


@pytest.mark.parametrize("asked", [{"view": "sideways"}, {"view": "slanted", "turn": "x"}, {"turn": "-1"}])
def test_what_cannot_be_shown_is_passed_over(office, asked):
    assert "tube-picture" in page_of(office, tube_part(mitre=45.0), **asked)


def test_a_sheet_part_and_a_plain_length_have_one_picture_and_no_choice(office):
    for part in (sheet_part(hole=20.0), tube_part()):
        page = page_of(office, part)
        assert "data-show" not in page
        assert 'class="picture' in page


def test_findings_stand_on_the_picture_where_the_part_is_the_only_one(office):
    finding = {"code": "bevel", "severity": "note", "message": "Its ends lean.", "at": [500.0, 20.0]}
    reading = {"kind": "tube", "unit": "mm", "findings": [finding]}
    alone = part_row(tube("rail", mitre=45.0), DrawingFactory(kind="tube", reading=reading))
    assert "Its ends lean." in page_of(office, alone)
    assert 'data-finding="1"' in picture_of(office, alone, "unrolled").text
    drawing = DrawingFactory(kind="tube", reading=reading)
    two = [part_row(tube(name, mitre=45.0), drawing, place) for place, name in enumerate(("a", "b"), 1)]
    assert "data-finding=" not in picture_of(office, two[0], "unrolled").text


def test_a_picture_may_be_kept_for_a_tablet_without_network(office):
    answer = picture_of(office, tube_part(mitre=45.0), "slanted-90")
    assert answer["Content-Type"].startswith("image/svg+xml")
    assert "immutable" in answer["Cache-Control"]


@pytest.mark.parametrize("name", ["flat", "slanted-45", "nonsense"])
def test_a_picture_that_there_is_not_is_not_found(office, name):
    assert picture_of(office, tube_part(mitre=45.0), name).status_code == 404


def test_a_part_that_is_not_there_is_not_found(office):
    assert office.get(reverse("parts:part-show", args=[4711])).status_code == 404
    assert office.get(reverse("parts:part-picture", args=[4711, "sides"])).status_code == 404


def test_nobody_sees_parts_without_signing_in(client):
    part = part_row(plate("plate"))
    assert client.get(reverse("parts:part-show", args=[part.pk])).status_code == 302


def test_a_person_without_a_role_is_refused(client, people):
    client.force_login(people.nobody)
    assert client.get(reverse("parts:part-show", args=[sheet_part().pk])).status_code == 403
