import uuid

import pytest

from nesting import route
from nesting.model.findings import Finding, Severity
from nesting.model.reading import Reading
from shopfloor.base.leases import claim
from shopfloor.orders.models import OrderFile
from shopfloor.parts import read as read_module
from shopfloor.parts.drawing_state import DRAWING_WORK
from shopfloor.parts.models import Drawing, DrawingEvent, DrawingState, Part
from shopfloor.parts.read import read
from shopfloor.parts.signals import drawing_settled
from shopfloor.stock.models import TubeSection
from tests.factories.orders import OrderFactory
from tests.factories.parts import DrawingFactory, plate, tube
from tests.factories.stock import TubeSectionFactory

pytestmark = pytest.mark.django_db

SHEET = Reading("sheet", (plate("bracket", 100, 60, hole=20), plate("gusset", 80, 80)), unit="mm")
TUBE = Reading("tube", (tube("rail", 1250),), unit="mm")
OPEN = Finding("open-contour", Severity.REFUSAL, "The outline is open at 41.2, 7.0. Close it.", (41.2, 7.0))
REFUSED = Reading("refused", (plate("bracket"),), (OPEN,))


@pytest.fixture
def reader(monkeypatch):
    """Stands in for the reader: gives the set reading, and keeps what it was asked."""

    class Reader:
        reading = SHEET
        asked = None

        def __call__(self, path, name, *, unit, join):
            self.asked = (path.name, name, unit, join)
            if isinstance(self.reading, Exception):
                raise self.reading
            return self.reading

    reader = Reader()
    monkeypatch.setattr(route, "read_drawing", reader)
    return reader


def waiting(**fields):
    return DrawingFactory(state=DrawingState.QUEUED, reading=None, kind="", **fields)


def test_a_drawing_of_two_parts_becomes_usable_with_two_parts(reader):
    drawing = waiting(name="set.dxf", unit="inch", join_mm="0.10")
    read(drawing.pk)
    drawing.refresh_from_db()
    assert reader.asked == (drawing.digest, "set.dxf", "inch", 0.1)
    assert (drawing.state, drawing.kind, drawing.failure) == (DrawingState.USABLE, "sheet", "")
    assert drawing.reading == {"kind": "sheet", "unit": "mm", "findings": []}
    assert drawing.picture.startswith("<svg")
    assert drawing.read_at is not None
    first, second = drawing.parts.all()
    assert (first.position, first.name, first.kind, second.position, second.name) == (
        1,
        "bracket",
        "sheet",
        2,
        "gusset",
    )
    assert (first.length_mm, first.width_mm, first.hole_count, first.pierce_count) == (100, 60, 1, 2)
    # Source: by hand, 100 × 60 - π × 10², and 2 × (100 + 60) + π × 20.
    assert first.area_mm2 == pytest.approx(5685.8407)
    assert first.cut_length_mm == pytest.approx(382.8319)
    assert first.noun == SHEET.parts[0]
    assert first.picture.startswith("<svg")
    assert drawing.events.get().verb == "found-usable"


def test_a_section_that_the_shop_knows_nearly_is_a_finding_of_the_drawing(reader):
    TubeSectionFactory(wall_mm="3.20", standard="EN 10219-2")
    reader.reading = TUBE
    drawing = waiting(name="rail.step")
    read(drawing.pk)
    drawing.refresh_from_db()
    (finding,) = drawing.findings
    assert (drawing.state, finding["code"], finding["severity"]) == (DrawingState.USABLE, "section-other", "warning")
    assert "it is not the shop's square 40 x 40 x 3.2 (EN 10219-2)" in finding["message"]


def test_a_tube_gets_its_section(reader):
    reader.reading = TUBE
    drawing = waiting(name="rail.step")
    read(drawing.pk)
    part = Part.objects.get()
    assert (part.kind, part.length_mm, part.section) == ("tube", 1250, TubeSection.objects.get())
    # Source: printed table of BS EN 10219:1997, 40 x 40 x 3: 4.21 cm².
    assert part.volume_mm3 == pytest.approx(421 * 1250, rel=0.002)
    assert part.mass_kg(None, 7850) == pytest.approx(3.30 * 1.25, rel=0.002)


def test_a_refusing_finding_makes_it_not_usable_and_keeps_its_place(reader):
    reader.reading = REFUSED
    drawing = waiting()
    read(drawing.pk)
    drawing.refresh_from_db()
    assert drawing.state == DrawingState.REFUSED
    assert drawing.findings == [
        {"code": "open-contour", "severity": "refusal", "message": OPEN.message, "at": [41.2, 7.0]}
    ]
    assert not Part.objects.exists()


def test_a_doubled_message_reads_once(reader):
    drawing = waiting()
    read(drawing.pk)
    read(drawing.pk)
    assert Part.objects.count() == 2
    assert DrawingEvent.objects.count() == 1


def test_a_fault_of_ours_becomes_a_sentence_on_the_row(reader):
    reader.reading = ZeroDivisionError("what only we understand")
    drawing = waiting(name="set.dxf")
    read(drawing.pk)
    drawing.refresh_from_db()
    assert drawing.state == DrawingState.FAILED
    assert drawing.failure == "set.dxf could not be read because of a fault of the server. Try again."


def test_a_late_twin_leaves_no_parts_and_does_not_fail_the_other(reader, monkeypatch):
    drawing = waiting()

    def slow(path, name, **_):
        # Meanwhile its lease ran out and another worker has taken the drawing.
        Drawing.objects.filter(pk=drawing.pk).update(attempt=2)
        return SHEET

    monkeypatch.setattr(route, "read_drawing", slow)
    read(drawing.pk)
    drawing.refresh_from_db()
    assert (drawing.state, drawing.kind) == (DrawingState.READING, "")
    assert not Part.objects.exists()


def test_a_late_twin_that_fails_leaves_the_other_in_peace(monkeypatch):
    drawing = waiting()

    def slow(path, name, **_):
        Drawing.objects.filter(pk=drawing.pk).update(attempt=2)
        raise ZeroDivisionError

    monkeypatch.setattr(route, "read_drawing", slow)
    read(drawing.pk)
    drawing.refresh_from_db()
    assert (drawing.state, drawing.failure) == (DrawingState.READING, "")


def test_what_waits_for_the_drawing_is_told_in_the_same_transaction(reader):
    drawing, told = waiting(), []

    def listener(drawing, **_):
        told.append((drawing.state, drawing.parts.count()))
        raise ZeroDivisionError("the listener failed")

    drawing_settled.connect(listener)
    try:
        read(drawing.pk)
    finally:
        drawing_settled.disconnect(listener)
    assert told == [(DrawingState.USABLE, 2)]
    drawing.refresh_from_db()
    assert drawing.state == DrawingState.FAILED
    assert not Part.objects.exists(), "parts of a reading that did not come to an end"


def test_drafts_that_hold_the_drawing_get_their_lines(reader):
    drawing, order = waiting(), OrderFactory()
    OrderFile.objects.create(order=order, drawing=drawing)
    read(drawing.pk)
    assert [line.part.name for line in order.lines.all()] == ["bracket", "gusset"]


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_eight_workers_with_the_same_message_read_once(reader, at_once):
    drawing = waiting()
    at_once(8, lambda _: read(drawing.pk))
    drawing.refresh_from_db()
    assert (drawing.state, drawing.attempt) == (DrawingState.USABLE, 1)
    assert Part.objects.count() == 2


def test_a_claimed_drawing_is_left_to_its_worker(reader):
    drawing = waiting()
    claim(DRAWING_WORK, drawing.pk)
    read(drawing.pk)
    assert reader.asked is None


def test_figures_are_those_of_the_noun():
    columns = read_module.figures(plate(str(uuid.uuid4()), 300, 200))
    assert (columns["length_mm"], columns["width_mm"], columns["area_mm2"]) == (300, 200, 60_000)
