"""Entering an order in the browser: head, files, lines, confirming. Reading itself is tested in `parts`."""

import re
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from nesting.model.section import Section
from shopfloor.orders.intake import add_lines_of
from shopfloor.orders.models import Order, OrderFile, OrderLine, OrderState
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.planning.demand import waiting_groups
from shopfloor.stock.models import TubeSection
from tests.factories.orders import OrderFactory, OrderFileFactory, line_of
from tests.factories.parts import DrawingFactory, part_row, plate, tube
from tests.factories.stock import BarFactory, MaterialFactory, TubeSectionFactory

pytestmark = pytest.mark.django_db
HTMX = {"hx-request": "true"}


@pytest.fixture
def office(client, people):
    client.force_login(people.office)
    return client


def url(name, *args):
    return reverse(f"orders:{name}", args=args)


def head(**fields):
    due_on = timezone.localdate() + timedelta(days=7)
    return {
        "customer_name": "Greenlip Planters",
        "reference": "",
        "due_on": due_on,
        "note": "",
        "key": uuid4(),
    } | fields


def upload(name="plate.dxf", content=b"0\nEOF\n"):
    return SimpleUploadedFile(name, content)


def test_a_new_order_takes_its_files_along(office, django_capture_on_commit_callbacks):
    answer = office.post(url("order-new"), head(files=[upload("a.dxf"), upload("b.step", b"ISO-10303-21;")]))
    order = Order.objects.get()
    assert answer.url == url("order-enter", order.pk)
    assert order.customer.name == "Greenlip Planters"
    assert sorted(str(file) for file in order.files.all()) == ["a.dxf", "b.step"]


def test_one_file_that_is_no_drawing_does_not_keep_the_others_out(office):
    answer = office.post(url("order-new"), head(files=[upload("notes.pdf"), upload("a.dxf")]), follow=True)
    assert [str(file) for file in Order.objects.get().files.all()] == ["a.dxf"]
    assert "notes.pdf: only DXF (sheet) and STEP (tube) files are read." in answer.text


def test_a_customer_is_known_again_whatever_the_case(office):
    office.post(url("order-new"), head())
    office.post(url("order-new"), head(customer_name=" greenlip  PLANTERS "))
    assert Order.objects.count() == 2
    assert Order.objects.values("customer").distinct().count() == 1


def test_an_order_sent_twice_is_entered_once(office):
    sent = head()
    for _ in range(2):
        file = SimpleUploadedFile("gate.dxf", b"0\nSECTION\n")
        answer = office.post(url("order-new"), sent | {"files": file}, follow=True)
    assert Order.objects.count() == OrderFile.objects.count() == 1
    assert "already" not in answer.text


def test_a_due_date_that_has_passed_is_refused_and_what_was_typed_is_kept(office):
    yesterday = timezone.localdate() - timedelta(days=1)
    answer = office.post(url("order-new"), head(due_on=yesterday, reference="spring range"))
    assert "The due date has passed already." in answer.text
    assert "spring range" in answer.text
    assert not Order.objects.exists()


def test_the_browser_itself_refuses_a_past_due_date_so_that_no_chosen_file_is_lost(office):
    assert f'min="{timezone.localdate():%Y-%m-%d}"' in office.get(url("order-new")).text


def test_an_order_that_is_late_already_can_still_be_corrected(office):
    order = OrderFactory(due_on=timezone.localdate() - timedelta(days=3))
    assert " min=" not in office.get(url("order-enter", order.pk)).text


def test_an_inspector_cannot_enter_an_order(client, people):
    client.force_login(people.inspector)
    assert client.post(url("order-new"), head()).status_code == 403
    assert not Order.objects.exists()


READ = {"state": DrawingState.USABLE, "reading": {"kind": "sheet", "unit": "mm", "findings": []}}


def being_read(order, count):
    return [
        OrderFileFactory(order=order, drawing=DrawingFactory(state=DrawingState.READING, reading=None))
        for _ in range(count)
    ]


def test_one_question_asks_for_news_of_all_files_that_are_being_read(office):
    order = OrderFactory()
    first, second, third = being_read(order, 3)
    page = office.get(url("order-enter", order.pk)).text
    assert page.count('hx-trigger="every') == 1
    asked = {"reading": re.findall(r'name="reading" value="([^"]+)"', page)}
    assert asked["reading"] == [f"{file.pk}-reading" for file in (first, second, third)]

    answer = office.get(url("files-news", order.pk), asked, headers=HTMX)
    assert ("<article" in answer.text, "HX-Trigger" in answer) == (False, False)
    assert url("files-news", order.pk) in answer.text

    Drawing.objects.filter(pk=second.drawing_id).update(**READ)
    answer = office.get(url("files-news", order.pk), asked, headers=HTMX)
    assert re.findall(r'<article[^>]*id="([^"]+)"[^>]*hx-swap-oob', answer.text) == [f"file-{second.pk}"]
    assert answer["HX-Trigger"] == "order-changed"
    assert url("files-news", order.pk) in answer.text

    Drawing.objects.update(**READ)
    answer = office.get(url("files-news", order.pk), asked, headers=HTMX)
    assert answer.text.count("<article") == 3
    assert url("files-news", order.pk) not in answer.text


def test_a_card_says_that_its_file_is_read_now(office):
    order = OrderFactory()
    (file,) = being_read(order, 1)
    answer = office.get(url("files-news", order.pk), {"reading": f"{file.pk}-queued"}, headers=HTMX)
    assert "being read" in answer.text
    assert "HX-Trigger" not in answer


@pytest.mark.parametrize("reading", ["", "x", "-", "99999999999999999999-reading", "7-reading", "07", "²-reading"])
def test_news_of_files_that_are_not_there_are_none(office, reading):
    answer = office.get(url("files-news", OrderFactory().pk), {"reading": reading}, headers=HTMX)
    assert (answer.status_code, "<article" in answer.text, "every 2s" in answer.text) == (200, False, False)


def test_files_of_another_order_are_not_given(office):
    (file,) = being_read(OrderFactory(), 1)
    answer = office.get(url("files-news", OrderFactory().pk), {"reading": f"{file.pk}-queued"}, headers=HTMX)
    assert "<article" not in answer.text


def test_a_file_that_is_put_in_begins_the_asking_anew(office):
    file = OrderFileFactory(drawing=DrawingFactory(state=DrawingState.READING, reading=None))
    page = office.get(url("file-show", file.pk), headers=HTMX).text
    assert 'id="reading" hx-swap-oob="true"' in page
    assert "every 2s" in page


def test_findings_are_shown_and_a_file_without_unit_is_asked_about(office):
    findings = [{"code": "unit-unknown", "severity": "question", "message": "Is it 8 mm or 8 inch?", "at": None}]
    reading = {"kind": "refused", "unit": "", "findings": findings}
    file = OrderFileFactory(drawing=DrawingFactory(state=DrawingState.REFUSED, reading=reading))
    page = office.get(url("order-enter", file.order_id)).text
    assert "Is it 8 mm or 8 inch?" in page
    assert "It is in inches" in page
    assert "waits for an answer" in page


def test_the_answer_to_a_question_reads_the_file_again(office):
    findings = [{"code": "unit-unknown", "severity": "question", "message": "mm or inch?", "at": None}]
    reading = {"kind": "refused", "unit": "", "findings": findings}
    file = OrderFileFactory(drawing=DrawingFactory(state=DrawingState.REFUSED, reading=reading))
    office.post(url("file-answer", file.pk), {"unit": "inch"}, headers=HTMX)
    drawing = OrderFile.objects.get(order=file.order).drawing
    assert (drawing.unit, drawing.state, drawing.digest) == ("inch", "queued", file.drawing.digest)


def test_a_line_is_set_field_by_field(office):
    line = line_of(OrderFactory())
    material = MaterialFactory()
    fields = {"quantity": "12", "material": material.pk, "thickness_mm": "2,5", "grain": "along", "note": "deburr"}
    answer = office.post(url("line-set", line.pk), fields, headers=HTMX)
    line.refresh_from_db()
    assert answer.status_code == 200
    assert (line.quantity, line.material, str(line.thickness_mm), line.grain) == (12, material, "2.50", "along")


@pytest.mark.parametrize("typed", ["0", "-1", "1000000000", "12.5", "a dozen", ""])
def test_a_quantity_that_cannot_be_is_answered_with_what_it_may_be(office, typed):
    line = line_of(OrderFactory(), quantity=3)
    answer = office.post(url("line-set", line.pk), {"quantity": typed}, headers=HTMX)
    line.refresh_from_db()
    assert answer.status_code == 400
    assert "quantity must be" in answer.text
    assert line.quantity == 3


def test_material_and_thickness_fill_only_the_lines_that_lack_them(office):
    order, steel, brass = OrderFactory(), MaterialFactory(), MaterialFactory()
    said, unsaid = line_of(order, material=brass, thickness_mm="3"), line_of(order)
    OrderLine.objects.filter(pk=unsaid.pk).update(material=None, thickness_mm=None)
    office.post(url("lines-fill", order.pk), {"material": steel.pk, "thickness_mm": "1.5"})
    for line in (said, unsaid):
        line.refresh_from_db()
    assert (said.material, str(said.thickness_mm)) == (brass, "3.00")
    assert (unsaid.material, str(unsaid.thickness_mm)) == (steel, "1.50")


def test_lines_of_files_that_are_still_being_read_start_with_what_was_filled_in(office):
    order, steel = OrderFactory(), MaterialFactory()
    office.post(url("lines-fill", order.pk), {"material": steel.pk, "thickness_mm": "2"})
    for part in (part_row(plate("kick-plate")), part_row(tube("rail"))):
        OrderFile.objects.create(order=order, drawing=part.drawing)
        add_lines_of(part.drawing)
    said = dict(order.lines.values_list("part__name", "thickness_mm"))
    assert (str(said["kick-plate"]), said["rail"]) == ("2.00", None)
    assert set(order.lines.values_list("material", flat=True)) == {steel.pk}


def test_a_line_that_was_made_while_all_were_filled_in_is_not_left_out(office, django_capture_on_commit_callbacks):
    order, steel = OrderFactory(), MaterialFactory()
    part = part_row(plate("kick-plate"))
    OrderFile.objects.create(order=order, drawing=part.drawing)
    with django_capture_on_commit_callbacks(execute=True):
        add_lines_of(part.drawing)
        # As another process does it: it does not see the new line, which is not committed yet.
        Order.objects.filter(pk=order.pk).update(usual_material=steel, usual_thickness_mm="2")
    line = order.lines.get()
    assert (line.material, str(line.thickness_mm)) == (steel, "2.00")


def test_a_tube_line_takes_its_section_from_the_file(office):
    order = OrderFactory()
    line = line_of(order, part_row(tube("rail")))
    page = office.get(url("order-enter", order.pk)).text
    assert f"{line.section}, " in page
    assert f'id="t{line.pk}"' not in page
    office.post(url("line-set", line.pk), {"quantity": "2", "thickness_mm": "9"}, headers=HTMX)
    line.refresh_from_db()
    assert (line.quantity, line.thickness_mm) == (2, None)


def test_confirming_says_what_is_still_missing(office):
    order = OrderFactory()
    line = line_of(order)
    OrderLine.objects.update(thickness_mm=None)
    assert f"{line.part.name}: say the thickness." in office.get(url("order-ready", order.pk), headers=HTMX).text
    assert office.post(url("order-confirm", order.pk), {"key": uuid4()}).status_code == 400
    order.refresh_from_db()
    assert order.state == OrderState.DRAFT


def test_an_order_with_all_said_is_confirmed(office):
    order = OrderFactory()
    line_of(order)
    assert "Everything is there" in office.get(url("order-ready", order.pk), headers=HTMX).text
    answer = office.post(url("order-confirm", order.pk), {"key": uuid4()}, follow=True)
    order.refresh_from_db()
    assert order.state == OrderState.CONFIRMED
    assert "Its parts now wait to be nested" in answer.text


def test_a_file_is_taken_out_with_its_lines(office):
    order = OrderFactory()
    line = line_of(order)
    office.post(url("file-take-out", line.file_id), {"key": uuid4()}, headers=HTMX)
    assert not order.lines.exists()
    assert not order.files.exists()


def test_a_confirmed_order_cannot_be_changed_any_more(office):
    order = OrderFactory(state=OrderState.CONFIRMED)
    line = line_of(order, quantity=2)
    answer = office.post(url("line-set", line.pk), {"quantity": "5"}, headers=HTMX)
    line.refresh_from_db()
    assert answer.status_code == 409
    assert answer["HX-Retarget"] == "#notice"
    assert line.quantity == 2


def test_the_due_date_of_an_order_in_work_can_be_corrected(office):
    order = OrderFactory(state=OrderState.CONFIRMED)
    due_on = timezone.localdate() + timedelta(days=30)
    office.post(url("head-set", order.pk), head(customer_name=order.customer.name, due_on=due_on))
    order.refresh_from_db()
    assert order.due_on == due_on


def test_a_line_says_how_often_its_file_holds_the_part(office):
    file = OrderFileFactory(drawing=DrawingFactory(state=DrawingState.USABLE))
    several, once = part_row(tube("leg"), file.drawing), part_row(tube("brace"), file.drawing, position=2)
    several.times_in_file = 4
    several.save()
    add_lines_of(file.drawing)
    page = office.get(url("file-show", file.pk), headers=HTMX).text
    assert (once.times_in_file, page.count("in the file</span>")) == (1, 1)
    assert "<span>4 in the file</span>" in page
    assert 'name="quantity" inputmode="numeric" required value="4"' in page


@pytest.fixture
def near_line(db):
    """A rail drawn with a wall of 2.6 mm in a draft; in stock there is tube with 3 mm."""
    rack = BarFactory(section=TubeSectionFactory(standard="EN 10219-2")).section
    noun = replace(tube("rail"), section=Section.box(40, 40, 2.6, 5.2))
    line = line_of(OrderFactory(), part_row(noun))
    assert line.section != rack
    return line


def card_of(office, line):
    return office.get(url("order-enter", line.order_id)).text


def test_a_section_in_stock_is_offered_taken_and_given_back(office, near_line):
    drawn, rack = near_line.section, TubeSection.objects.get(standard="EN 10219-2")
    page = card_of(office, near_line)
    assert "In stock there is <strong>square 40 x 40 x 3 (EN 10219-2)</strong>" in page
    assert "a wall of 2.6 mm instead of 3 mm" in page

    taken = office.post(url("line-section", near_line.pk), {"section": rack.pk, "key": uuid4()}, headers=HTMX)
    near_line.refresh_from_db()
    assert (near_line.section, taken["HX-Trigger"]) == (rack, "order-changed")
    assert "Cut from square 40 x 40 x 3 (EN 10219-2)" in taken.text
    assert "a wall of 2.6 mm instead of 3 mm" in card_of(office, near_line)

    back = office.post(url("line-section", near_line.pk), {"key": uuid4()}, headers=HTMX)
    near_line.refresh_from_db()
    assert near_line.section == drawn
    assert "In stock there is" in back.text
    events = near_line.order.events.filter(verb="set-line").order_by("pk").values_list("why", flat=True)
    assert list(events) == [f"rail: section {rack}", f"rail: section {drawn}"]


def test_a_section_taken_twice_by_one_lost_answer_is_told_once(office, near_line):
    rack, key = TubeSection.objects.get(standard="EN 10219-2"), uuid4()
    for _ in range(2):
        assert office.post(url("line-section", near_line.pk), {"section": rack.pk, "key": key}).status_code == 302
    assert near_line.order.events.filter(verb="set-line").count() == 1


def test_a_section_far_from_the_drawn_one_is_refused(office, near_line):
    far = TubeSectionFactory(height_mm=50, width_mm=50)
    answer = office.post(url("line-section", near_line.pk), {"section": far.pk, "key": uuid4()}, headers=HTMX)
    assert answer.status_code == 400
    assert "is too far from the drawn" in answer.text


def test_a_sheet_part_takes_no_section(office):
    line = line_of(OrderFactory())
    section = TubeSectionFactory()
    answer = office.post(url("line-section", line.pk), {"section": section.pk, "key": uuid4()}, headers=HTMX)
    assert answer.status_code == 400
    assert "has no section" in answer.text


def test_the_section_of_a_confirmed_order_stays(office, near_line):
    drawn = near_line.section
    Order.objects.filter(pk=near_line.order_id).update(state=OrderState.CONFIRMED)
    rack = TubeSection.objects.get(standard="EN 10219-2")
    answer = office.post(url("line-section", near_line.pk), {"section": rack.pk, "key": uuid4()}, headers=HTMX)
    assert answer.status_code == 409
    near_line.refresh_from_db()
    assert near_line.section == drawn


def test_pieces_of_a_line_that_takes_another_section_are_nested_on_its_bars(office, near_line):
    rack = TubeSection.objects.get(standard="EN 10219-2")
    office.post(url("line-section", near_line.pk), {"section": rack.pk, "key": uuid4()})
    near_line.refresh_from_db()
    near_line.material = MaterialFactory()
    near_line.save()
    Order.objects.filter(pk=near_line.order_id).update(state=OrderState.CONFIRMED)
    assert [group.section for group in waiting_groups()] == [rack]
    assert "drawn as square 40 x 40 x 2.6" in office.get(url("order-show", near_line.order_id)).text
