import uuid
from datetime import date

import pytest

from nesting import route
from shopfloor.orders.models import OrderLine
from shopfloor.planning.models import Nest, NestState
from shopfloor.planning.run import run
from tests.factories.orders import ConfirmedOrderFactory, line_of
from tests.factories.stock import MachineFactory, MaterialFactory

SVG = '<svg xmlns="http://www.w3.org/2000/svg"/>'


@pytest.fixture
def line(shop):
    shop.sheets(on_hand=3)
    return shop.line(4)


@pytest.fixture
def group(office, line):
    return office.rows("/groups/")[0]["group"]


@pytest.fixture
def ready(shop, line):
    return shop.ready_nest(line)


class TestGroups:
    def test_what_waits_is_grouped_with_its_stock(self, office, shop):
        shop.sheets(on_hand=3)
        order = ConfirmedOrderFactory(due_on=date(2030, 5, 1))
        first = shop.line(4, order=order)
        second = shop.line(2, thickness_mm="2.00")
        rail = shop.tube_line(3)
        sheet, tube = office.rows("/groups/")[0], office.rows("/groups/")[-1]
        assert {sheet["kind"], tube["kind"]} == {"sheet", "tube"}
        sheet, tube = sorted((sheet, tube), key=lambda row: row["kind"])
        assert (sheet["title"], sheet["piece_count"], sheet["stock_kinds"]) == ("S235, 2 mm", 6, 1)
        assert sheet["thickness_mm"] == 2
        # Source: by hand, six plates of 100 x 60
        assert sheet["amount"] == pytest.approx(36_000)
        assert {row["id"]: row["open_count"] for row in sheet["lines"]} == {first.pk: 4, second.pk: 2}
        assert {row["order_number"] for row in sheet["lines"]} == {order.number, second.order.number}
        # Source: by hand, three rails of 1000
        assert (tube["amount"], tube["stock_kinds"], tube["section"]) == (3000, 0, rail.section_id)

    def test_drafts_do_not_wait(self, office, shop):
        line_of(shop.line().order.__class__.objects.create(customer=shop.line().order.customer, due_on="2030-05-01"))
        assert sum(row["piece_count"] for row in office.rows("/groups/")) == 2

    def test_groups_come_in_pages(self, office, shop):
        for thickness in ("1", "2", "3"):
            shop.line(1, thickness_mm=thickness)
        page = office.get("/groups/", limit=2).json()
        assert (page["count"], len(page["results"])) == (3, 2)
        assert len(office.get("/groups/", limit=2, offset=2).json()["results"]) == 1


class TestAsking:
    def test_a_nest_of_all_that_waits_is_queued(self, office, people, shop, line, group):
        answer = office.post("/nests/", {"group": group})
        assert answer.status_code == 201
        body = answer.json()
        assert (body["state"], body["wanted_count"], body["machine"]) == ("queued", 4, shop.machine.pk)
        assert (body["group"], body["asked_by"], body["best"]) == ("S235, 2 mm", people.office.pk, None)
        assert body["demands"] == [
            {
                "line": line.pk,
                "part_name": line.part.name,
                "order": line.order_id,
                "order_number": line.order.number,
                "count": 4,
                "fill_count": 0,
                "positions": [],
            }
        ]
        assert office.rows("/groups/") == []

    def test_a_nest_asked_for_twice_is_one(self, office, group, key):
        first, again = (office.post("/nests/", {"group": group, "key": key}) for _ in range(2))
        assert (first.status_code, again.status_code) == (201, 200)
        assert first.json() == again.json()
        assert Nest.objects.count() == 1

    def test_a_part_of_what_waits_on_a_machine_of_choice(self, office, line, group):
        other = MachineFactory()
        asked = {"group": group, "only": {str(line.pk): 1}, "machine": other.pk, "budget_s": 5, "seed": 7}
        body = office.post("/nests/", asked).json()
        assert (body["wanted_count"], body["machine"], body["budget_s"], body["seed"]) == (1, other.pk, 5, 7)
        assert office.rows("/groups/")[0]["piece_count"] == 3

    def test_what_may_fill_room_beside_it_and_orders_kept_together(self, office, shop, line, group):
        other = shop.line(20)
        asked = {"group": group, "only": {str(line.pk): 4}, "fill": {str(other.pk): 20}, "together": True}
        body = office.post("/nests/", asked).json()
        assert (body["wanted_count"], body["filled_count"], body["kits_together"]) == (4, 0, True)
        run(body["id"])
        body = office.get(f"/nests/{body['id']}/").json()
        assert (body["state"], body["placed_count"], body["filled_count"], body["unplaced"]) == ("ready", 24, 20, [])
        assert [(d["line"], d["count"], d["fill_count"], d["positions"]) for d in body["demands"]] == [
            (line.pk, 4, 0, [1]),
            (other.pk, 20, 20, [1]),
        ]

    def test_nothing_waits_twice(self, office, refused, group):
        office.post("/nests/", {"group": group})
        refused(office.post("/nests/", {"group": group}), 409, "nothing-waits")

    def test_without_stock_there_is_no_nest(self, office, refused, shop):
        shop.line(1)
        [row] = office.rows("/groups/")
        refused(office.post("/nests/", {"group": row["group"]}), 409, "no-stock")

    @pytest.mark.parametrize("count", [0, -1, -(10**30)])
    def test_less_than_one_piece_is_nothing(self, office, refused, line, group, count):
        refused(office.post("/nests/", {"group": group, "only": {str(line.pk): count}}), 409, "nothing-waits")
        line.refresh_from_db()
        assert line.planned_count == 0

    @pytest.mark.parametrize(
        ("said", "field"),
        [
            ({"group": "all"}, "group"),
            ({"group": "sheet-1-x-"}, "group"),
            ({"group": "sheet-1-NaN-1e9"}, "group"),
            ({"group": "sheet-1-1e99-"}, "group"),
            ({"group": None}, "group"),
            ({"budget_s": 1}, "budget_s"),
            ({"budget_s": 601}, "budget_s"),
            ({"machine": 99}, "machine"),
            ({"seed": -1}, "seed"),
            ({"only": {"x": 1}}, "only"),
            ({"only": [1]}, "only"),
            ({"fill": {"x": 1}}, "fill"),
            ({"fill": {"1": "many"}}, "fill.1"),
            ({"together": "perhaps"}, "together"),
        ],
    )
    def test_a_value_that_cannot_be_is_named(self, office, refused, group, said, field):
        refused(office.post("/nests/", {"group": group, **said}), 400, "bad-input", field)

    def test_a_machine_that_does_not_cut_this_is_refused(self, office, refused, shop, group):
        answer = office.post("/nests/", {"group": group, "machine": shop.tube_machine.pk})
        refused(answer, 400, "bad-input", "machine")


class TestWatching:
    def test_the_best_so_far_is_shown_while_it_is_laid_out(self, office, shop, line):
        nest = shop.ask(line)
        best = {"placed": 3, "wanted": 4, "yield": 0.4, "stock": 1, "proven_optimal": False}
        Nest.objects.filter(pk=nest.pk).update(state="laying", best=best, best_picture=SVG)
        assert office.get(f"/nests/{nest.pk}/").json()["best"] == best
        answer = office.get(f"/nests/{nest.pk}/best-picture/")
        assert (answer["Content-Type"], answer.content.decode()) == ("image/svg+xml", SVG)

    def test_a_ready_nest_shows_its_sheets(self, office, ready):
        body = office.get(f"/nests/{ready.pk}/").json()
        assert (body["state"], body["placed_count"], body["best"]) == ("ready", 4, None)
        # Source: by hand, four plates of 100 x 60 on a sheet of 1000 x 500
        assert body["yield_share"] == pytest.approx(24_000 / 500_000)
        [layout] = body["layouts"]
        assert (layout["position"], layout["copies"], layout["piece_count"], layout["pierce_count"]) == (1, 1, 4, 4)
        assert layout["cut_length_mm"] == pytest.approx(4 * 320)

    def test_a_failed_nest_says_why(self, office, shop, monkeypatch, line):
        nest = shop.ask(line)

        def broken(*_, **__):
            raise RuntimeError

        monkeypatch.setattr(route, "lay_out", broken)
        run(nest.pk)
        body = office.get(f"/nests/{nest.pk}/").json()
        assert body["state"] == "failed"
        assert body["failure"]

    def test_nests_are_found_by_what_they_are(self, office, shop, ready):
        shop.bars(on_hand=1)
        tube = shop.ask(shop.tube_line(1))
        order = ready.demands.get().line.order

        def found(**params):
            return [row["id"] for row in office.rows("/nests/", **params)]

        assert found() == [tube.pk, ready.pk]
        assert found(state="ready") == [ready.pk]
        assert found(state=["ready", "queued"]) == [tube.pk, ready.pk]
        assert found(kind="tube") == [tube.pk]
        assert found(thickness_mm="2") == [ready.pk]
        assert found(section=tube.section_id) == [tube.pk]
        assert found(machine=shop.machine.pk) == [ready.pk]
        assert found(order=order.pk) == [ready.pk]
        assert found(material=MaterialFactory().pk) == []


class TestStates:
    def verb(self, caller, nest, verb, **body):
        return caller.post(f"/nests/{nest.pk}/{verb}/", body)

    @pytest.mark.parametrize("verb", ["cancel", "throw-away", "release"])
    def test_each_verb_counts_once_for_its_key(self, office, shop, line, key, verb):
        nest = shop.ask(line) if verb == "cancel" else shop.ready_nest(line)
        after = "released" if verb == "release" else "thrown_away"
        for _ in range(2):
            answer = self.verb(office, nest, verb, key=key)
            assert (answer.status_code, answer.json()["state"]) == (200, after)
        told = [row["verb"] for row in office.rows(f"/nests/{nest.pk}/history/")]
        assert told.count(verb) == 1

    def test_a_released_nest_is_recalled_once_for_its_key(self, office, ready, key):
        self.verb(office, ready, "release")
        for _ in range(2):
            assert self.verb(office, ready, "recall", key=key).json()["state"] == "ready"
        assert office.rows("/loads/", state="waiting") == []

    def test_a_nest_that_was_pulled_is_not_recalled(self, office, operator, shop, refused, ready):
        self.verb(office, ready, "release")
        operator.post(f"/queues/{shop.machine.pk}/pull-next/")
        refused(self.verb(office, ready, "recall"), 409, "load-pulled")

    @pytest.mark.parametrize(
        ("verb", "allowed"),
        [
            ("cancel", {"queued", "laying"}),
            ("throw-away", {"ready", "failed", "proposed"}),
            ("release", {"ready"}),
            ("recall", {"released"}),
        ],
    )
    def test_in_any_other_state_a_verb_is_refused(self, office, refused, ready, verb, allowed):
        for state in set(NestState.values) - allowed:
            Nest.objects.filter(pk=ready.pk).update(state=state)
            refused(self.verb(office, ready, verb), 409, "wrong-state")
            ready.refresh_from_db()
            assert ready.state == state

    def test_what_is_cancelled_or_thrown_away_waits_again(self, office, shop, line, ready):
        self.verb(office, ready, "throw-away", why="Too little on it.")
        assert office.rows("/groups/")[0]["piece_count"] == 4
        assert office.rows(f"/nests/{ready.pk}/history/")[0]["why"] == "Too little on it."
        nest = shop.ask(line)
        assert office.rows("/groups/") == []
        self.verb(office, nest, "cancel")
        assert OrderLine.objects.get(pk=line.pk).open_count == 4

    def test_taking_the_best_asks_the_worker_to_stop(self, office, shop, line, key):
        nest = shop.ask(line)
        Nest.objects.filter(pk=nest.pk).update(state="laying")
        for _ in range(2):
            assert self.verb(office, nest, "take-best", key=key).status_code == 200
        nest.refresh_from_db()
        assert nest.stop_asked

    def test_taking_the_best_of_a_nest_that_is_done_changes_nothing(self, office, ready):
        assert self.verb(office, ready, "take-best").json()["state"] == "ready"
        ready.refresh_from_db()
        assert not ready.stop_asked

    def test_releasing_makes_a_load_of_each_sheet(self, office, shop, ready):
        self.verb(office, ready, "release", key=str(uuid.uuid4()))
        [load] = office.rows("/loads/", nest=ready.pk)
        assert (load["state"], load["machine"], load["piece_count"]) == ("waiting", shop.machine.pk, 4)
