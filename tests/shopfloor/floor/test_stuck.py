"""What stands on the list of things that wait for a person, for whom, and when it goes from there."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from shopfloor.floor.inspection import Verdict, all_good, inspect
from shopfloor.floor.mark import break_out, mark_cut
from shopfloor.floor.models import Load, WorkpieceState
from shopfloor.floor.pull import pull
from shopfloor.floor.stuck import all_stuck
from shopfloor.parts.models import DrawingState
from shopfloor.planning.models import Nest, NestState
from shopfloor.planning.rule import planning_rule
from shopfloor.stock.models import Machine
from tests.factories.orders import ConfirmedOrderFactory, OrderFactory, OrderFileFactory
from tests.factories.parts import DrawingFactory

pytestmark = pytest.mark.django_db
QUESTION = {"code": "unit-unknown", "severity": "question", "message": "mm or inch?", "at": None}
REFUSAL = {"code": "open-contour", "severity": "refusal", "message": "It is open.", "at": [0, 0]}


def told():
    return [(row.who, row.what) for row in all_stuck()]


def said(*words):
    """The rows that hold all these words."""
    return [row for row in all_stuck() if all(word in row.what for word in words)]


def draft_with(name, *findings, state=DrawingState.REFUSED):
    reading = {"kind": "refused", "unit": "", "findings": list(findings)}
    return OrderFileFactory(drawing=DrawingFactory(name=name, state=state, reading=reading))


def test_nothing_is_stuck_in_an_empty_shop():
    assert told() == []


def test_a_drawing_waits_for_an_answer_or_for_another_file():
    draft_with("flap.dxf", QUESTION)
    file = draft_with("plate.dxf", REFUSAL)
    draft_with("post.step", state=DrawingState.FAILED)
    assert [row.who for row in said("flap.dxf", "waits for an answer.")] == ["office"]
    [row] = said("plate.dxf", "cannot be used as it is.")
    assert row.url.endswith(f"/{file.order_id}/enter/")
    assert said("post.step", "cannot be used as it is.")


def test_files_of_confirmed_orders_are_no_longer_asked_about():
    file = draft_with("plate.dxf", REFUSAL)
    file.order.state = "cancelled"
    file.order.save(update_fields=["state"])
    assert told() == []


def test_work_without_stock_waits_for_the_office_and_without_a_machine_for_the_manager(shop):
    shop.line(1)
    assert [(row.who, "1 piece waits, and there is nothing of it in stock." in row.what) for row in all_stuck()] == [
        ("office", True)
    ]
    shop.sheets()
    Machine.objects.update(in_use=False)
    assert [(row.who, "no machine in use cuts it" in row.what) for row in all_stuck()] == [("manager", True)]


def test_work_that_falls_due_is_told_unless_the_shop_nests_by_itself(shop):
    shop.sheets()
    today = timezone.localdate()
    shop.line(2, order=ConfirmedOrderFactory(due_on=today))
    [row] = said("2 pieces are not nested")
    assert row.url.endswith("/waiting/")
    rule = planning_rule()
    rule.by_itself = True
    rule.save(update_fields=["by_itself"])
    assert told() == []


def test_work_that_falls_due_later_is_not_stuck(shop):
    shop.sheets()
    shop.line(2, order=ConfirmedOrderFactory(due_on=timezone.localdate() + timedelta(days=60)))
    assert told() == []


def test_a_nest_that_failed_says_why_and_one_that_is_ready_waits_to_be_released(shop):
    shop.sheets(on_hand=2)
    ready = shop.ready_nest(shop.line(2))
    failed = shop.ask(shop.line(3))
    Nest.objects.filter(pk=failed.pk).update(state=NestState.FAILED, failure="The engine fell over three times.")
    [row] = said(f"{failed} ", "failed: The engine fell over three times.")
    assert row.who == "office"
    assert said(f"{ready} ", "is ready and not released.")


def test_a_load_is_followed_from_the_machine_to_the_last_rework(shop):
    shop.sheets()
    [load] = shop.loads(shop.line(3))
    pull(load, by=shop.people.operator)
    assert told() == []
    Load.objects.filter(pk=load.pk).update(pulled_at=timezone.now() - timedelta(hours=3))
    [row] = said(f"{load} lies at Laser, pulled by", "is not marked cut.")
    assert row.who == "operator"
    load.refresh_from_db()
    mark_cut(load, by=shop.people.operator)
    assert [row.what for row in all_stuck()] == [f"{load}: 3 pieces are to be broken out."]
    break_out(load, by=shop.people.operator)
    assert [(row.who, row.what) for row in all_stuck()] == [("inspector", f"{load}: 3 pieces are to be inspected.")]
    number = load.workpieces.order_by("number").first().number
    verdicts = all_good(load) | {number: Verdict(WorkpieceState.REWORK, "dross")}
    inspect(load, verdicts, by=shop.people.inspector)
    [row] = all_stuck()
    assert "1 × " in row.what
    assert "in rework." in row.what
    inspect(load, {number: Verdict(WorkpieceState.GOOD)}, by=shop.people.inspector)
    assert told() == []


def test_what_waits_longest_stands_first():
    old, new = draft_with("old.dxf", REFUSAL), draft_with("new.dxf", REFUSAL)
    type(old).objects.filter(pk=new.pk).update(added_at=timezone.now() - timedelta(hours=1))
    assert [row.what.split()[0] for row in all_stuck()] == ["new.dxf", "old.dxf"]


def test_the_page_shows_it_to_whoever_is_signed_in(client, shop):
    shop.line(1, order=ConfirmedOrderFactory(customer=OrderFactory().customer))
    client.force_login(shop.people.office)
    page = client.get(reverse("floor:stuck"))
    assert page.status_code == 200
    assert "there is nothing of it in stock" in page.text
