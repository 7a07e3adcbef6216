import pytest

from shopfloor.parts.models import DrawingState
from tests.factories.orders import OrderFileFactory
from tests.factories.parts import DrawingFactory, part_row, plate, sheet_part, tube_part

SVG = '<svg xmlns="http://www.w3.org/2000/svg"/>'
OPEN = {"code": "open-contour", "severity": "refusal", "message": "Loose end at 3, 4.", "at": [3.0, 4.0]}


def test_a_drawing_says_what_was_found_in_it(office):
    reading = {"kind": "refused", "unit": "mm", "findings": [OPEN]}
    drawing = DrawingFactory(state=DrawingState.REFUSED, kind="refused", reading=reading)
    body = office.get(f"/drawings/{drawing.pk}/").json()
    assert (body["state"], body["findings"], body["parts"]) == ("refused", [OPEN], [])


def test_a_drawing_that_waits_has_found_nothing_yet(office):
    drawing = DrawingFactory(state=DrawingState.QUEUED, kind="", reading=None)
    body = office.get(f"/drawings/{drawing.pk}/").json()
    assert (body["findings"], body["part_count"]) == ([], 0)


def test_the_figures_of_a_sheet_part(office):
    part = part_row(plate("flange", 100, 60, hole=20))
    body = office.get(f"/parts/{part.pk}/").json()
    assert (body["length_mm"], body["width_mm"], body["hole_count"], body["pierce_count"]) == (100, 60, 1, 2)
    # Source: by hand, 100 x 60 - 100 pi, and 320 + 20 pi
    assert body["area_mm2"] == pytest.approx(5685.840735, abs=1e-6)
    assert body["cut_length_mm"] == pytest.approx(382.831853, abs=1e-6)
    assert (body["section"], body["volume_mm3"]) == (None, None)


def test_a_tube_part_names_its_section(office):
    part = tube_part(length=1200)
    body = office.get(f"/parts/{part.pk}/").json()
    assert (body["kind"], body["length_mm"], body["section_name"]) == ("tube", 1200, str(part.section))


def test_a_picture_is_given_as_svg(office):
    drawing = DrawingFactory(picture=SVG)
    part = sheet_part()
    part.picture = SVG
    part.save()
    for path in (f"/drawings/{drawing.pk}/picture/", f"/parts/{part.pk}/picture/"):
        for accept in ("*/*", "image/svg+xml", "text/html,image/svg+xml;q=0.9"):
            answer = office.client.get(f"/api{path}", HTTP_ACCEPT=accept)
            assert answer.status_code == 200
            assert answer["Content-Type"] == "image/svg+xml"
            assert answer.content.decode() == SVG


def test_no_picture_yet_is_said_as_json_whatever_was_asked_for(office, refused):
    drawing = DrawingFactory()
    for accept in ("*/*", "image/svg+xml"):
        refused(office.client.get(f"/api/drawings/{drawing.pk}/picture/", HTTP_ACCEPT=accept), 404, "not-found")
        refused(office.client.get("/api/drawings/9/picture/", HTTP_ACCEPT=accept), 404, "not-found")


def test_a_form_that_is_not_offered_is_refused(office, refused):
    drawing = DrawingFactory(picture=SVG)
    answer = office.client.get(f"/api/drawings/{drawing.pk}/picture/", HTTP_ACCEPT="image/png")
    refused(answer, 406, "not-offered")


def test_a_failed_reading_is_tried_again_once_for_its_key(office, key):
    drawing = DrawingFactory(state=DrawingState.FAILED, failure="The worker stopped.")
    for _ in range(2):
        answer = office.post(f"/drawings/{drawing.pk}/try-again/", {"key": key})
        assert (answer.status_code, answer.json()["state"], answer.json()["failure"]) == (200, "queued", "")
    assert [row["verb"] for row in office.rows(f"/drawings/{drawing.pk}/history/")] == ["try-again"]


def test_a_drawing_that_did_not_fail_is_not_tried_again(office, refused):
    drawing = DrawingFactory()
    refused(office.post(f"/drawings/{drawing.pk}/try-again/"), 409, "wrong-state")


def test_drawings_and_parts_are_found_by_what_they_are(office):
    usable = DrawingFactory(name="Flange.dxf")
    failed = DrawingFactory(name="hinge.dxf", state=DrawingState.FAILED)
    part = part_row(plate("Flange left"), usable)
    rail = tube_part()
    order = OrderFileFactory(drawing=failed).order

    def found(path, **params):
        return {row["id"] for row in office.rows(path, **params)}

    assert found("/drawings/", state="failed") == {failed.pk}
    assert found("/drawings/", name="flan") == {usable.pk}
    assert found("/drawings/", order=order.pk) == {failed.pk}
    assert found("/parts/", drawing=usable.pk) == {part.pk}
    assert found("/parts/", kind="tube") == {rail.pk}
    assert found("/parts/", name="LEFT") == {part.pk}
