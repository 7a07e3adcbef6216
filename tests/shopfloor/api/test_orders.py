import uuid
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from shopfloor.orders.models import Customer, Order, OrderEvent, OrderFile, OrderState
from shopfloor.parts.models import Drawing, DrawingState
from tests.factories.orders import ConfirmedOrderFactory, CustomerFactory, OrderFactory, OrderFileFactory, line_of
from tests.factories.parts import DrawingFactory


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def draft():
    """A draft with one line that lacks nothing."""
    order = OrderFactory()
    line_of(order, quantity=4)
    return order


def dxf(name="bracket.dxf", content=b"0\nSECTION\n0\nEOF\n"):
    return SimpleUploadedFile(name, content)


class TestCustomers:
    def test_a_customer_is_entered_and_corrected(self, office):
        answer = office.post("/customers/", {"name": "Northgate Stalls", "contact": "Stall 4"})
        assert answer.status_code == 201
        changed = office.patch(f"/customers/{answer.json()['id']}/", {"note": "Pays late."}).json()
        assert (changed["name"], changed["contact"], changed["note"]) == ("Northgate Stalls", "Stall 4", "Pays late.")

    def test_a_customer_sent_twice_is_one(self, office, key):
        codes = [office.post("/customers/", {"name": "Northgate Stalls", "key": key}).status_code for _ in range(2)]
        assert codes == [201, 200]
        assert Customer.objects.count() == 1

    def test_a_name_is_there_once(self, office, refused):
        CustomerFactory(name="Northgate Stalls")
        refused(office.post("/customers/", {"name": "Northgate Stalls"}), 400, "bad-input", "name")

    def test_a_customer_is_found_by_a_part_of_the_name(self, office):
        CustomerFactory(name="Northgate Stalls")
        CustomerFactory(name="Fernhill Allotments")
        assert [row["name"] for row in office.rows("/customers/", name="STALL")] == ["Northgate Stalls"]


class TestEntering:
    def test_an_order_is_opened_as_a_draft(self, office, people):
        customer = CustomerFactory()
        body = {"customer": customer.pk, "due_on": "2030-05-02", "reference": " PO 7 ", "note": "Call first."}
        answer = office.post("/orders/", body)
        assert answer.status_code == 201
        body = answer.json()
        assert (body["customer_name"], body["due_on"], body["reference"]) == (customer.name, "2030-05-02", "PO 7")
        assert (body["state"], body["lines"], body["files"]) == ("draft", [], [])
        assert body["faults"] == ["The order has no parts yet. Add at least one drawing."]
        assert OrderEvent.objects.get().actor == people.office

    def test_an_order_sent_twice_is_one(self, office, key):
        body = {"customer": CustomerFactory().pk, "due_on": "2030-05-02", "key": key}
        first, again = office.post("/orders/", body), office.post("/orders/", body)
        assert (first.status_code, again.status_code) == (201, 200)
        assert first.json() == again.json()
        assert Order.objects.count() == 1

    @pytest.mark.parametrize(
        ("change", "field"),
        [
            ({"customer": 99}, "customer"),
            ({"customer": None}, "customer"),
            ({"due_on": "tomorrow"}, "due_on"),
            ({"due_on": "2030-02-30"}, "due_on"),
            ({"reference": "x" * 81}, "reference"),
        ],
    )
    def test_a_value_that_cannot_be_is_named(self, office, refused, change, field):
        body = {"customer": CustomerFactory().pk, "due_on": "2030-05-02", **change}
        refused(office.post("/orders/", body), 400, "bad-input", field)


class TestFiles:
    def test_many_files_go_in_at_once_and_are_queued(self, office):
        order = OrderFactory()
        answer = office.upload(
            f"/orders/{order.pk}/files/", dxf("a.dxf"), dxf("b.DXF"), dxf("rail.step", b"ISO-10303-21;")
        )
        assert answer.status_code == 201
        assert [file["drawing"]["name"] for file in answer.json()["files"]] == ["a.dxf", "b.DXF", "rail.step"]
        assert {file["drawing"]["state"] for file in answer.json()["files"]} == {"queued"}
        assert answer.json()["refused"] == []

    def test_one_bad_file_does_not_keep_the_others_out(self, office):
        order = OrderFactory()
        files = (dxf("a.dxf"), dxf("empty.dxf", b""), dxf("photo.jpg"), dxf("b.dxf"))
        answer = office.upload(f"/orders/{order.pk}/files/", *files)
        assert answer.status_code == 201
        assert [file["drawing"]["name"] for file in answer.json()["files"]] == ["a.dxf", "b.dxf"]
        first, second = answer.json()["refused"]
        assert first.startswith("empty.dxf:")
        assert second.startswith("photo.jpg:")

    def test_only_bad_files_are_a_bad_request(self, office, refused):
        order = OrderFactory()
        answer = office.upload(f"/orders/{order.pk}/files/", dxf("photo.jpg"), dxf("notes.txt"))
        body = refused(answer, 400, "bad-input", "files")
        assert "photo.jpg" in body["message"]
        assert "notes.txt" in body["message"]

    def test_a_file_that_is_too_large_is_named(self, office, refused, settings):
        settings.LARGEST_DRAWING_BYTES = 100
        order = OrderFactory()
        answer = office.upload(f"/orders/{order.pk}/files/", dxf("huge.dxf", b"0" * 101))
        assert "huge.dxf" in refused(answer, 400, "bad-input", "files")["message"]

    def test_no_file_at_all_is_a_bad_request(self, office, refused):
        order = OrderFactory()
        refused(office.upload(f"/orders/{order.pk}/files/"), 400, "bad-input", "files")
        refused(office.upload(f"/orders/{order.pk}/files/", "not a file"), 400, "bad-input", "files")

    def test_more_files_than_one_request_may_carry_are_refused(self, office, refused, settings):
        settings.DATA_UPLOAD_MAX_NUMBER_FILES = 3
        order = OrderFactory()
        answer = office.upload(f"/orders/{order.pk}/files/", *(dxf(f"{n}.dxf") for n in range(4)))
        assert "at most 3" in refused(answer, 413, "too-large")["message"]

    def test_a_body_that_is_no_upload_is_refused(self, office, refused):
        order = OrderFactory()
        path = f"/api/orders/{order.pk}/files/"
        refused(office.client.post(path, {"files": []}, format="json"), 415, "bad-body")
        torn = office.client.post(path, b"--x\r\nContent-Disp", content_type="multipart/form-data")
        refused(torn, 400, "bad-body")

    def test_files_sent_twice_go_in_once(self, office, key):
        order = OrderFactory()
        path = f"/orders/{order.pk}/files/"
        first = office.upload(path, dxf("a.dxf"), dxf("photo.jpg"), key=key)
        again = office.upload(path, dxf("a.dxf"), dxf("photo.jpg"), key=key)
        assert (first.status_code, again.status_code) == (201, 200)
        assert first.json() == again.json()
        assert Drawing.objects.count() == OrderFile.objects.count() == 1

    def test_a_late_repeat_does_not_bring_back_what_was_taken_out(self, office, key):
        order = OrderFactory()
        path = f"/orders/{order.pk}/files/"
        [file] = office.upload(path, dxf(), key=key).json()["files"]
        office.delete(f"/order-files/{file['id']}/")
        assert office.upload(path, dxf(), key=key).json()["files"] == []

    def test_an_order_in_work_takes_no_files(self, office, refused):
        order = ConfirmedOrderFactory()
        refused(office.upload(f"/orders/{order.pk}/files/", dxf()), 409, "wrong-state")
        assert not order.files.exists()

    def test_a_name_with_folders_and_strange_signs_is_taken_plain(self, office):
        order = OrderFactory()
        [file] = office.upload(f"/orders/{order.pk}/files/", dxf("..\\..\\gate\u202e.dxf")).json()["files"]
        assert file["drawing"]["name"] == "gate.dxf"


class TestStates:
    def test_confirming_puts_an_order_to_work(self, office, draft):
        answer = office.post(f"/orders/{draft.pk}/confirm/")
        assert (answer.status_code, answer.json()["state"], answer.json()["faults"]) == (200, "confirmed", [])

    def test_confirming_names_what_is_missing(self, office, refused, draft):
        line_of(draft, material=None)
        draft.lines.update(material=None)
        OrderFileFactory(order=draft, drawing=DrawingFactory(name="sketch.dxf", state=DrawingState.REFUSED))
        body = refused(office.post(f"/orders/{draft.pk}/confirm/"), 400, "bad-input")
        assert "sketch.dxf" in body["message"]
        assert "material" in body["message"]
        assert office.get(f"/orders/{draft.pk}/").json()["faults"]

    @pytest.mark.parametrize(
        ("verb", "state", "after"),
        [
            ("confirm", "draft", "confirmed"),
            ("cancel", "draft", "cancelled"),
            ("cancel", "confirmed", "cancelled"),
            ("hand-over", "complete", "handed_over"),
            ("take-back", "handed_over", "complete"),
        ],
    )
    def test_each_verb_counts_once_for_its_key(self, office, people, draft, key, verb, state, after):
        Order.objects.filter(pk=draft.pk).update(state=state)
        for _ in range(2):
            answer = office.post(f"/orders/{draft.pk}/{verb}/", {"key": key})
            assert (answer.status_code, answer.json()["state"]) == (200, after)
        [event] = office.rows(f"/orders/{draft.pk}/history/")
        assert (event["verb"], event["from_state"], event["to_state"]) == (verb, state, after)
        assert (event["actor"], event["actor_name"]) == (people.office.pk, str(people.office))
        assert event["key"] == key

    @pytest.mark.parametrize(
        ("verb", "allowed"),
        [
            ("confirm", {"draft"}),
            ("cancel", {"draft", "confirmed"}),
            ("hand-over", {"complete"}),
            ("take-back", {"handed_over"}),
        ],
    )
    def test_in_any_other_state_a_verb_is_refused(self, office, refused, draft, verb, allowed):
        for state in set(OrderState.values) - allowed:
            Order.objects.filter(pk=draft.pk).update(state=state)
            refused(office.post(f"/orders/{draft.pk}/{verb}/"), 409, "wrong-state")
            draft.refresh_from_db()
            assert draft.state == state

    def test_cancelling_says_why(self, office, draft):
        office.post(f"/orders/{draft.pk}/cancel/", {"why": "Customer changed their mind."})
        assert office.rows(f"/orders/{draft.pk}/history/")[0]["why"] == "Customer changed their mind."

    def test_an_order_with_pieces_at_the_machine_is_not_cancelled(self, office, refused):
        order = ConfirmedOrderFactory()
        line_of(order, quantity=4, cut_count=1)
        refused(office.post(f"/orders/{order.pk}/cancel/"), 409, "pieces-under-way")


class TestList:
    def test_an_order_counts_its_pieces_by_step(self, office):
        order = ConfirmedOrderFactory()
        line_of(order, quantity=10, good_count=3, cut_count=2, scrapped_count=1)
        line_of(order, quantity=5, nested_count=5)
        [row] = office.rows("/orders/")
        assert row["line_count"] == 2
        assert row["pieces"] == {
            "ordered": 15,
            "open": 5,
            "planned": 0,
            "nested": 5,
            "cut": 2,
            "broken_out": 0,
            "rework": 0,
            "good": 3,
            "scrapped": 1,
            "lost": 0,
        }

    def test_an_order_shows_the_counts_of_each_line(self, office):
        order = ConfirmedOrderFactory()
        line = line_of(order, quantity=10, good_count=3, cut_count=2)
        body = office.get(f"/orders/{order.pk}/").json()
        [row] = body["lines"]
        assert (row["id"], row["quantity"], row["open_count"]) == (line.pk, 10, 5)
        assert (row["good_count"], row["cut_count"], row["part_name"]) == (3, 2, line.part.name)
        assert [file["id"] for file in body["files"]] == [line.file_id]

    def test_orders_are_found_by_state_due_date_and_customer(self, office):
        early = OrderFactory(due_on=date(2030, 5, 1), reference="PO 7")
        late = ConfirmedOrderFactory(due_on=date(2030, 6, 1))
        gone = OrderFactory(due_on=date(2030, 7, 1), state=OrderState.CANCELLED)

        def found(**params):
            return [row["id"] for row in office.rows("/orders/", **params)]

        assert found() == [early.pk, late.pk, gone.pk]
        assert found(state="confirmed") == [late.pk]
        assert found(state=["draft", "cancelled"]) == [early.pk, gone.pk]
        assert found(customer=late.customer_id) == [late.pk]
        assert found(due_on="2030-06-01") == [late.pk]
        assert found(due_before="2030-06-01") == [early.pk]
        assert found(due_after="2030-06-01") == [gone.pk]
        assert found(reference="po") == [early.pk]
        assert found(ordering="-due_on") == [gone.pk, late.pk, early.pk]

    def test_a_filter_that_cannot_be_is_named(self, office, refused):
        refused(office.get("/orders/", state="lost"), 400, "bad-input", "state")
        refused(office.get("/orders/", due_before="soon"), 400, "bad-input", "due_before")
        refused(office.get("/orders/", customer="Northgate"), 400, "bad-input", "customer")
        refused(office.get("/orders/", customer=10**30), 400, "bad-input", "customer")

    def test_history_is_last_first(self, office, draft):
        office.post(f"/orders/{draft.pk}/confirm/", {"key": str(uuid.uuid4())})
        office.post(f"/orders/{draft.pk}/cancel/")
        verbs = [row["verb"] for row in office.rows(f"/orders/{draft.pk}/history/")]
        assert verbs == ["cancel", "confirm"]
