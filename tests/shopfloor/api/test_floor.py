import uuid

import pytest

from shopfloor.floor.models import FloorEvent, Load, LoadState
from shopfloor.orders.models import OrderLine
from tests.factories.stock import CuttingRuleFactory, MachineFactory


@pytest.fixture
def line(shop):
    shop.material.family = "galvanised"
    shop.material.save()
    shop.sheets(on_hand=2, heat_no="H7", place="Rack 2")
    return shop.line(4)


@pytest.fixture
def load(shop, line):
    return shop.loads(line)[0]


@pytest.fixture
def at_machine(operator, load):
    operator.post(f"/loads/{load.pk}/pull/")
    return load


@pytest.fixture
def cut(operator, at_machine):
    operator.post(f"/loads/{at_machine.pk}/mark-cut/")
    return at_machine


@pytest.fixture
def broken_out(operator, cut):
    operator.post(f"/loads/{cut.pk}/break-out/")
    return cut


def counts(line):
    line = OrderLine.objects.get(pk=line.pk)
    return {
        step: n
        for step in ("open", "cut", "broken_out", "good", "rework", "scrapped", "lost")
        if (n := getattr(line, f"{step}_count"))
    }


class TestQueue:
    def test_a_machine_has_its_queue(self, operator, shop, load):
        [row] = operator.rows(f"/queues/{shop.machine.pk}/")
        assert (row["id"], row["state"], row["group"], row["kind"]) == (load.pk, "waiting", "S235, 2 mm", "sheet")
        assert operator.rows(f"/queues/{MachineFactory().pk}/") == []

    def test_the_next_load_is_pulled_once_for_its_key(self, operator, people, shop, load, key):
        for _ in range(2):
            answer = operator.post(f"/queues/{shop.machine.pk}/pull-next/", {"key": key})
            assert answer.status_code == 200
            body = answer.json()
            assert (body["id"], body["state"], body["heat_no"]) == (load.pk, "at_machine", "H7")
            assert body["pulled_by"] == people.operator.pk
        assert FloorEvent.objects.filter(verb="pull").count() == 1

    def test_an_empty_queue_says_so(self, operator, refused):
        refused(operator.post(f"/queues/{MachineFactory().pk}/pull-next/"), 409, "queue-empty")

    def test_a_machine_that_is_none_has_no_queue(self, operator, refused):
        refused(operator.get("/queues/99/"), 404, "not-found")
        refused(operator.post("/queues/99/pull-next/"), 404, "not-found")


class TestLoad:
    def test_a_load_says_what_to_put_on_and_what_to_watch_for(self, operator, shop, line, load):
        CuttingRuleFactory(material=shop.material, thickness_mm=2, settings_note="Nozzle 1.5, nitrogen")
        body = operator.get(f"/loads/{load.pk}/").json()
        assert (body["stock_heat_no"], body["stock_place"], body["settings_note"]) == (
            "H7",
            "Rack 2",
            "Nozzle 1.5, nitrogen",
        )
        assert body["cautions"] == shop.material.cautions
        assert any("extraction" in caution for caution in body["cautions"])
        # Source: by hand, 1 m x 0.5 m x 0.002 m x 7850 kg/m3
        assert body["stock_mass_kg"] == pytest.approx(7.85)
        assert [piece["number"] for piece in body["workpieces"]] == [1, 2, 3, 4]
        assert {piece["state"] for piece in body["workpieces"]} == {"nested"}
        piece = body["workpieces"][0]
        assert (piece["part_name"], piece["order_number"]) == (line.part.name, line.order.number)
        assert piece["customer_name"] == line.order.customer.name

    def test_a_heavy_sheet_is_to_be_lifted_with_care(self, operator, shop):
        shop.sheets(on_hand=1, thickness_mm=10)
        [load] = shop.loads(shop.line(1, thickness_mm="10"))
        # Source: by hand, 1 m x 0.5 m x 0.010 m x 7850 kg/m3 = 39.25 kg
        assert "39 kg" in operator.get(f"/loads/{load.pk}/").json()["cautions"][-1]

    def test_loads_are_found_by_what_they_are(self, operator, shop, line, load):
        shop.bars(on_hand=1)
        [bar] = shop.loads(shop.tube_line(1))
        operator.post(f"/loads/{load.pk}/pull/")

        def found(**params):
            return {row["id"] for row in operator.rows("/loads/", **params)}

        assert found() == {load.pk, bar.pk}
        assert found(state="waiting") == {bar.pk}
        assert found(machine=shop.machine.pk) == {load.pk}
        assert found(nest=bar.layout.nest_id) == {bar.pk}
        assert found(order=line.order_id) == {load.pk}
        assert found(heat_no="h7") == {load.pk}


class TestMarks:
    def mark(self, caller, load, verb, **body):
        return caller.post(f"/loads/{load.pk}/{verb}/", body)

    def test_pulling_and_putting_back_count_once_for_their_keys(self, operator, load):
        pull, back = str(uuid.uuid4()), str(uuid.uuid4())
        for _ in range(2):
            assert self.mark(operator, load, "pull", key=pull).json()["state"] == "at_machine"
        for _ in range(2):
            assert self.mark(operator, load, "put-back", key=back).json()["state"] == "waiting"
        assert FloorEvent.objects.filter(load=load).count() == 2

    def test_the_centring_of_a_bar_is_kept_once_for_its_key(self, operator, refused, shop, key):
        shop.bars()
        load = shop.loads(shop.tube_line(2))[0]
        refused(self.mark(operator, load, "check-centring"), 409, "wrong-state")
        operator.post(f"/loads/{load.pk}/pull/")
        refused(self.mark(operator, load, "check-centring", height_mm=400.0), 400, "bad-input", "height_mm")
        answers = [
            self.mark(operator, load, "check-centring", key=key, height_mm=40.2, twist_mm=None) for _ in range(2)
        ]
        first, again = (answer.json() for answer in answers)
        assert first == again
        assert (first["event"]["detail"], first["load"]["state"]) == ({"height_mm": 40.2}, "at_machine")
        assert first["load"]["can_undo"] == "check-centring"
        assert operator.post(f"/loads/{load.pk}/undo/").json()["load"]["can_undo"] == ""

    def test_a_sheet_is_not_centred(self, operator, refused, at_machine):
        refused(self.mark(operator, at_machine, "check-centring"), 400, "bad-input")

    def test_a_load_says_how_its_bar_is_loaded(self, operator, shop):
        CuttingRuleFactory(material=shop.material, kind="tube", seam_towards="down")
        shop.tube_machine.loading_side = "left"
        shop.tube_machine.save()
        shop.bars()
        body = operator.get(f"/loads/{shop.loads(shop.tube_line(1))[0].pk}/").json()
        assert (body["loading_side"], body["seam_towards"]) == ("left", "down")

    def test_a_cut_sheet_is_cut_once_for_its_key(self, operator, people, line, at_machine, key):
        answers = [self.mark(operator, at_machine, "mark-cut", key=key, keep_remnant=False) for _ in range(2)]
        assert [answer.status_code for answer in answers] == [200, 200]
        first, again = (answer.json() for answer in answers)
        assert first == again
        assert (first["event"]["verb"], first["event"]["key"], first["event"]["actor"]) == (
            "mark-cut",
            key,
            people.operator.pk,
        )
        assert (first["load"]["state"], first["load"]["can_undo"]) == ("cut", "mark-cut")
        at_machine.stock.refresh_from_db()
        assert (at_machine.stock.on_hand, at_machine.stock.reserved) == (1, 0)
        assert counts(line) == {"cut": 4}

    def test_a_failed_cut_gives_its_pieces_back_once_for_its_key(self, operator, line, at_machine, key):
        for _ in range(2):
            body = self.mark(
                operator, at_machine, "mark-failed", key=key, why="Lost the cut", stock_spoiled=False
            ).json()
            assert (body["load"]["state"], body["event"]["why"]) == ("failed", "Lost the cut")
        assert counts(line) == {"open": 4, "lost": 4}
        at_machine.stock.refresh_from_db()
        assert at_machine.stock.on_hand == 2

    def test_a_failed_cut_needs_a_reason(self, operator, refused, at_machine):
        for body in ({}, {"why": " "}, {"why": None}):
            refused(self.mark(operator, at_machine, "mark-failed", **body), 400, "bad-input", "why")

    def test_all_pieces_are_broken_out_once_for_the_key(self, operator, line, cut, key):
        for _ in range(2):
            body = self.mark(operator, cut, "break-out", key=key, lost=[2]).json()
            assert body["load"]["state"] == "broken_out"
        assert [row[:3] for row in body["event"]["pieces"]] == [
            [1, "cut", "broken_out"],
            [2, "cut", "lost"],
            [3, "cut", "broken_out"],
            [4, "cut", "broken_out"],
        ]
        assert counts(line) == {"open": 1, "broken_out": 3, "lost": 1}

    def test_some_pieces_are_broken_out_first(self, operator, line, cut):
        assert self.mark(operator, cut, "break-out", numbers=[1, 3]).json()["load"]["state"] == "cut"
        assert counts(line) == {"cut": 2, "broken_out": 2}

    def test_pieces_are_judged_once_for_the_key(self, inspector, line, broken_out, key):
        verdicts = [
            {"number": 1, "state": "good"},
            {"number": 2, "state": "rework", "reason": "dross"},
            {"number": 3, "state": "scrapped", "reason": "tipped"},
        ]
        for _ in range(2):
            body = self.mark(inspector, broken_out, "inspect", key=key, verdicts=verdicts).json()
        assert body["load"]["state"] == "broken_out"
        assert {p["number"]: (p["state"], p["reason"]) for p in body["load"]["workpieces"]} == {
            1: ("good", ""),
            2: ("rework", "dross"),
            3: ("scrapped", "tipped"),
            4: ("broken_out", ""),
        }
        assert counts(line) == {"open": 1, "broken_out": 1, "good": 1, "rework": 1, "scrapped": 1}

    def test_all_good_counts_once_for_its_key(self, inspector, line, broken_out, key):
        for _ in range(2):
            answer = self.mark(inspector, broken_out, "inspect", key=key, all_good=True)
            assert (answer.status_code, answer.json()["load"]["state"]) == (200, "inspected")
        assert counts(line) == {"good": 4}
        line.order.refresh_from_db()
        assert line.order.state == "complete"

    @pytest.mark.parametrize(
        "verdicts",
        [
            [],
            [{"number": 1, "state": "scrapped"}],
            [{"number": 1, "state": "rework", "reason": ""}],
            [{"number": 1, "state": "good"}, {"number": 1, "state": "good"}],
        ],
    )
    def test_a_verdict_that_cannot_be_is_refused(self, inspector, refused, broken_out, verdicts):
        refused(self.mark(inspector, broken_out, "inspect", verdicts=verdicts), 400, "bad-input", "verdicts")

    @pytest.mark.parametrize(
        ("verdict", "field"),
        [
            ({"number": 1, "state": "lost"}, "verdicts.0.state"),
            ({"number": "one", "state": "good"}, "verdicts.0.number"),
            ({"number": -1, "state": "good"}, "verdicts.0.number"),
            ({"number": 1, "state": "scrapped", "reason": "bored"}, "verdicts.0.reason"),
        ],
    )
    def test_a_verdict_of_the_wrong_form_is_named(self, inspector, refused, broken_out, verdict, field):
        refused(self.mark(inspector, broken_out, "inspect", verdicts=[verdict]), 400, "bad-input", field)

    def test_a_piece_that_is_not_on_the_load_is_refused(self, inspector, operator, refused, cut):
        refused(self.mark(operator, cut, "break-out", numbers=[9]), 409, "wrong-state")
        refused(self.mark(operator, cut, "break-out", numbers=[10**10]), 400, "bad-input", "numbers.0")

    def test_the_last_mark_is_taken_back_once_for_its_key(self, operator, line, cut, key):
        for _ in range(2):
            body = self.mark(operator, cut, "undo", key=key).json()
            assert (body["event"]["verb"], body["load"]["state"]) == ("undo-mark-cut", "at_machine")
        undone = FloorEvent.objects.get(verb="mark-cut")
        assert body["event"]["undoes"] == undone.pk
        assert counts(line) == {}

    def test_a_mark_that_is_named_is_taken_back_only_while_it_is_the_last(self, operator, refused, cut):
        mark = FloorEvent.objects.get(verb="mark-cut")
        refused(self.mark(operator, cut, "undo", event=mark.pk + 1), 409, "wrong-state")
        assert self.mark(operator, cut, "undo", event=mark.pk).status_code == 200
        refused(self.mark(operator, cut, "undo", event=mark.pk), 409, "nothing-to-undo")

    def test_taking_a_mark_back_takes_the_role_that_made_it(self, inspector, refused, cut):
        refused(self.mark(inspector, cut, "undo"), 403, "not-your-role")

    def test_without_a_mark_there_is_nothing_to_take_back(self, operator, refused, at_machine):
        refused(self.mark(operator, at_machine, "undo"), 409, "nothing-to-undo")

    @pytest.mark.parametrize(
        ("verb", "body", "allowed"),
        [
            ("pull", {}, {"waiting"}),
            ("put-back", {}, {"at_machine"}),
            ("mark-cut", {}, {"at_machine"}),
            ("mark-failed", {"why": "Lost the cut"}, {"at_machine"}),
            ("break-out", {"numbers": [1]}, {"cut"}),
            ("inspect", {"verdicts": [{"number": 1, "state": "good"}]}, set()),
        ],
    )
    def test_in_any_other_state_a_mark_is_refused(self, manager, refused, load, verb, body, allowed):
        for state in set(LoadState.values) - allowed:
            Load.objects.filter(pk=load.pk).update(state=state)
            refused(self.mark(manager, load, verb, **body), 409, "wrong-state")
            load.refresh_from_db()
            assert load.state == state

    def test_events_are_last_first_and_found_by_load_and_verb(self, operator, people, shop, broken_out):
        verbs = [row["verb"] for row in operator.rows("/floor-events/", load=broken_out.pk)]
        assert verbs == ["break-out", "mark-cut", "pull"]
        [row] = operator.rows("/floor-events/", verb="mark-cut", machine=shop.machine.pk)
        assert row["actor_name"] == str(people.operator)
        assert operator.rows("/floor-events/", nest=broken_out.layout.nest_id, verb="inspect") == []
        assert operator.get(f"/floor-events/{row['id']}/").json() == row
