import pytest

from shopfloor.orders.models import OrderFile
from shopfloor.orders.progress import OPEN, Shift, report
from shopfloor.parts.models import Drawing, DrawingState
from tests.factories.orders import ConfirmedOrderFactory, OrderFactory, OrderFileFactory, line_of
from tests.factories.parts import DrawingFactory, tube_part
from tests.factories.stock import MaterialFactory

ASKED = {"code": "unit-unknown", "severity": "question", "message": "Which unit?", "at": None}


@pytest.fixture
def line():
    return line_of(OrderFactory(), quantity=4)


@pytest.fixture
def unclear():
    """A file of a draft whose drawing asks for its unit."""
    reading = {"kind": "refused", "unit": "", "findings": [ASKED]}
    drawing = DrawingFactory(state=DrawingState.REFUSED, kind="refused", reading=reading)
    return OrderFileFactory(drawing=drawing)


class TestSettingALine:
    def test_what_is_said_of_a_line_is_kept_and_told(self, office, line):
        steel = MaterialFactory(name="S355")
        said = {"quantity": 40, "material": steel.pk, "thickness_mm": 3, "grain": "along", "note": "No burr."}
        answer = office.patch(f"/order-lines/{line.pk}/", said)
        assert answer.status_code == 200
        body = answer.json()
        assert {name: body[name] for name in said} == said
        assert (body["material_name"], body["open_count"], body["missing"]) == ("S355", 40, [])
        [event] = office.rows(f"/orders/{line.order_id}/history/")
        assert (event["verb"], event["from_state"], event["to_state"]) == ("set-line", "draft", "draft")
        assert "quantity 40" in event["why"]
        assert "material S355" in event["why"]

    def test_a_change_sent_twice_counts_once(self, office, line, key):
        office.patch(f"/order-lines/{line.pk}/", {"quantity": 40, "key": key})
        office.patch(f"/order-lines/{line.pk}/", {"quantity": 41})
        # The late repeat must not bring the old quantity back.
        assert office.patch(f"/order-lines/{line.pk}/", {"quantity": 40, "key": key}).json()["quantity"] == 41
        assert len(office.rows(f"/orders/{line.order_id}/history/")) == 2

    def test_what_stays_the_same_is_no_news(self, office, line):
        office.patch(f"/order-lines/{line.pk}/", {"quantity": 4})
        assert office.rows(f"/orders/{line.order_id}/history/") == []

    @pytest.mark.parametrize(
        ("said", "field"),
        [
            ({"quantity": 0}, "quantity"),
            ({"quantity": -1}, "quantity"),
            ({"quantity": 10**9}, "quantity"),
            ({"quantity": 10**30}, "quantity"),
            ({"quantity": 1.5}, "quantity"),
            ({"quantity": None}, "quantity"),
            ({"quantity": "many"}, "quantity"),
            ({"thickness_mm": 0}, "thickness_mm"),
            ({"thickness_mm": 101}, "thickness_mm"),
            ({"thickness_mm": "1e999999"}, "thickness_mm"),
            ({"thickness_mm": "NaN"}, "thickness_mm"),
            ({"material": 99}, "material"),
            ({"material": True}, "material"),
            ({"grain": "up"}, "grain"),
            ({"note": "x" * 301}, "note"),
            ({"note": ["x"]}, "note"),
        ],
    )
    def test_a_value_that_cannot_be_is_named(self, office, refused, line, said, field):
        refused(office.patch(f"/order-lines/{line.pk}/", said), 400, "bad-input", field)
        line.refresh_from_db()
        assert (line.quantity, line.note) == (4, "")

    def test_a_tube_line_takes_no_thickness(self, office):
        line = line_of(OrderFactory(), tube_part())
        assert office.patch(f"/order-lines/{line.pk}/", {"thickness_mm": 3}).json()["thickness_mm"] is None

    def test_a_line_of_an_order_in_work_stays_as_it_is(self, office, refused):
        line = line_of(ConfirmedOrderFactory(), quantity=4)
        refused(office.patch(f"/order-lines/{line.pk}/", {"quantity": 5}), 409, "wrong-state")
        line.refresh_from_db()
        assert line.quantity == 4

    def test_what_the_work_counts_cannot_be_set(self, office, line):
        body = office.patch(f"/order-lines/{line.pk}/", {"good_count": 4, "order": 99, "part": 99}).json()
        assert (body["good_count"], body["order"], body["part"]) == (0, line.order_id, line.part_id)


class TestAnsweringAFile:
    def test_the_unit_is_said_and_the_file_read_again(self, office, unclear):
        answer = office.post(f"/order-files/{unclear.pk}/answer/", {"unit": "inch"})
        assert answer.status_code == 200
        body = answer.json()
        assert body["id"] == unclear.pk
        assert (body["drawing"]["unit"], body["drawing"]["state"]) == ("inch", "queued")
        # What others entered with the drawing as it was keeps it.
        assert Drawing.objects.filter(digest=unclear.drawing.digest).count() == 2

    def test_ends_are_joined_wider(self, office, unclear):
        body = office.post(f"/order-files/{unclear.pk}/answer/", {"join_mm": 0.1}).json()
        assert body["drawing"]["join_mm"] == 0.1

    def test_an_answer_sent_twice_counts_once(self, office, unclear, key):
        answers = [office.post(f"/order-files/{unclear.pk}/answer/", {"unit": "mm", "key": key}) for _ in range(2)]
        assert [answer.status_code for answer in answers] == [200, 200]
        assert answers[0].json() == answers[1].json()
        assert len(office.rows(f"/orders/{unclear.order_id}/history/")) == 1

    def test_the_lines_of_the_earlier_reading_are_gone(self, office, line):
        office.post(f"/order-files/{line.file_id}/answer/", {"unit": "cm"})
        assert office.rows("/order-lines/", order=line.order_id) == []

    def test_an_answer_that_the_order_holds_already_is_not_doubled(self, office, unclear):
        known = DrawingFactory(name=unclear.drawing.name, unit="mm")
        there = OrderFileFactory(order=unclear.order, drawing=known)
        body = office.post(f"/order-files/{unclear.pk}/answer/", {"unit": "mm"}).json()
        assert body["id"] == there.pk
        assert OrderFile.objects.filter(order=unclear.order).count() == 1

    @pytest.mark.parametrize(
        ("said", "field"), [({"unit": "ell"}, "unit"), ({"join_mm": 5}, "join_mm"), ({"join_mm": "0.0x"}, "join_mm")]
    )
    def test_only_what_is_offered_can_be_answered(self, office, refused, unclear, said, field):
        refused(office.post(f"/order-files/{unclear.pk}/answer/", said), 400, "bad-input", field)

    def test_a_file_of_an_order_in_work_is_not_read_again(self, office, refused):
        file = OrderFileFactory(order=ConfirmedOrderFactory())
        refused(office.post(f"/order-files/{file.pk}/answer/", {"unit": "mm"}), 409, "wrong-state")


class TestTakingAFileOut:
    def test_the_file_goes_with_its_lines(self, office, line):
        assert office.delete(f"/order-files/{line.file_id}/").status_code == 204
        assert office.rows("/order-lines/") == office.rows("/order-files/") == []
        [event] = office.rows(f"/orders/{line.order_id}/history/")
        assert (event["verb"], event["why"]) == ("take-out-file", line.part.drawing.name)

    def test_a_repeat_with_its_key_is_answered_alike(self, office, refused, line, key):
        path = f"/order-files/{line.file_id}/"
        codes = [office.delete(path, HTTP_IDEMPOTENCY_KEY=key).status_code for _ in range(2)]
        assert codes == [204, 204]
        refused(office.delete(path), 404, "not-found")

    def test_nothing_is_taken_out_of_an_order_in_work(self, office, refused):
        file = OrderFileFactory(order=ConfirmedOrderFactory())
        refused(office.delete(f"/order-files/{file.pk}/"), 409, "wrong-state")
        assert OrderFile.objects.filter(pk=file.pk).exists()


def test_files_and_lines_are_found_by_their_order(office, line):
    other = line_of(ConfirmedOrderFactory())

    def found(path, **params):
        return [row["id"] for row in office.rows(path, **params)]

    assert found("/order-files/", order=other.order_id) == [other.file_id]
    assert found("/order-lines/", order=line.order_id) == [line.pk]
    assert found("/order-lines/", order__state="confirmed") == [other.pk]
    assert found("/order-lines/", material=line.material_id) == [line.pk]
    assert found("/order-lines/", part=other.part_id) == [other.pk]


def test_the_ledger_tells_where_pieces_went(office, people):
    line = line_of(ConfirmedOrderFactory(), quantity=4)
    other = line_of(ConfirmedOrderFactory(), quantity=4)
    report([Shift(line.pk, OPEN, "planned", 3)], by=people.operator, place="Nest 1")
    report([Shift(other.pk, OPEN, "planned", 1)], by=None)
    [row] = office.rows("/line-events/", order=line.order_id)
    assert (row["from_step"], row["to_step"], row["count"], row["place"]) == ("", "planned", 3, "Nest 1")
    assert row["actor_name"] == str(people.operator)
    [row] = office.rows("/line-events/", line=other.pk)
    assert (row["actor"], row["actor_name"]) == (None, None)
