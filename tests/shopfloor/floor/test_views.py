"""The machine's pages: choosing it, what to do next, and the lists of loads."""

import uuid

import pytest
from django.urls import reverse

from shopfloor.floor.inspection import all_good, inspect
from shopfloor.floor.mark import break_out, mark_cut
from shopfloor.floor.models import FloorEvent, LoadState
from shopfloor.floor.pull import pull, pull_next
from tests.factories.stock import MachineFactory


def test_a_tablet_asks_for_its_machine_once_and_remembers_it(shop, tablet):
    page = tablet.get("floor:machine-choose")
    assert page.status_code == 200
    assert "Laser" in page.content.decode()
    answer = tablet.post("floor:machine-use", shop.machine.pk)
    assert answer.url == reverse("floor:machine-page", args=[shop.machine.pk])
    assert tablet.get("floor:machine-choose").url == answer.url
    assert tablet.get("floor:machine-choose", choose=1).status_code == 200


def test_the_machine_is_the_tablets_and_not_the_persons(shop, tablet, people):
    tablet.post("floor:machine-use", shop.machine.pk)
    tablet.post("accounts:sign-out")
    tablet.client.force_login(people.inspector)
    assert tablet.get("floor:machine-choose").status_code == 302


def test_a_machine_out_of_use_is_asked_for_again(shop, tablet):
    tablet.post("floor:machine-use", shop.machine.pk)
    shop.machine.in_use = False
    shop.machine.save(update_fields=["in_use"])
    assert tablet.get("floor:machine-choose").status_code == 200
    assert tablet.post("floor:machine-use", shop.machine.pk).status_code == 404


@pytest.mark.parametrize("remembered", ["", "abc", "-1", "99999", "1 or 1=1"])
def test_a_strange_cookie_is_as_good_as_none(shop, tablet, remembered):
    tablet.client.cookies["floor_machine"] = remembered
    assert tablet.get("floor:machine-choose").status_code == 200


def test_the_next_button_can_be_moved_to_the_left(shop, tablet):
    assert "hand-left" not in tablet.get("floor:machine-page", shop.machine.pk).content.decode()
    tablet.post("floor:hand-set", hand="left")
    assert "hand-left" in tablet.get("floor:machine-page", shop.machine.pk).content.decode()
    tablet.post("floor:hand-set", hand="right")
    assert "hand-left" not in tablet.get("floor:machine-page", shop.machine.pk).content.decode()
    assert tablet.post("floor:hand-set", hand="up").status_code == 400


def test_the_machine_page_says_what_is_next_and_for_whom(shop, tablet, load):
    page = tablet.get("floor:machine-page", shop.machine.pk).content.decode()
    assert "Next in turn" in page
    assert str(load) in page
    assert "6 pieces" in page
    assert "Plot 9 Allotments" in page
    assert "Pull next" in page


def test_an_empty_queue_says_what_would_stand_there(shop, tablet):
    page = tablet.get("floor:machine-page", shop.machine.pk).content.decode()
    assert f"Nothing waits for {shop.machine}" in page
    assert "Pull next" not in page


def test_the_load_in_hand_comes_first(shop, tablet, load_in_hand):
    page = tablet.get("floor:machine-page", shop.machine.pk).content.decode()
    assert "At the machine" in page
    assert "Go on" in page


def test_a_tablet_that_has_seen_the_board_is_not_drawn_anew(shop, tablet, load, people):
    board = tablet.get("floor:machine-page", shop.machine.pk).context["board"]
    assert tablet.get("floor:machine-page", shop.machine.pk, seen=board.version).status_code == 204
    pull(load, by=people.operator)
    assert tablet.get("floor:machine-page", shop.machine.pk, seen=board.version).status_code == 200


def test_the_board_alone_is_sent_to_a_page_that_refreshes(shop, tablet, load):
    url = reverse("floor:machine-page", args=[shop.machine.pk])
    fragment = tablet.client.get(url, headers={"HX-Request": "true"}).content.decode()
    assert str(load) in fragment
    assert "<html" not in fragment


def test_pulling_next_opens_the_load(shop, tablet, load, people):
    answer = tablet.post("floor:load-pull-next", shop.machine.pk)
    assert answer.url == reverse("floor:load-page", args=[load.pk])
    load.refresh_from_db()
    assert (load.state, load.pulled_by) == (LoadState.AT_MACHINE, people.operator)


def test_pulling_sent_twice_pulls_one_load(shop, tablet):
    shop.sheets(on_hand=2, length_mm=130, width_mm=90)
    loads = shop.loads(shop.line(2))
    key = uuid.uuid4()
    answers = [tablet.post("floor:load-pull-next", shop.machine.pk, key=key).url for _ in range(2)]
    assert answers == [reverse("floor:load-page", args=[loads[0].pk])] * 2
    assert FloorEvent.objects.filter(verb="pull").count() == 1


def test_an_empty_queue_refuses_in_words(shop, tablet):
    answer = tablet.mark("floor:load-pull-next", shop.machine.pk)
    assert answer.status_code == 409
    assert f"Nothing waits for {shop.machine}" in answer.content.decode()


def test_an_inspector_cannot_pull_and_is_not_asked_to(shop, inspectors_tablet, load):
    assert "Pull next" not in inspectors_tablet.get("floor:machine-page", shop.machine.pk).content.decode()
    assert inspectors_tablet.mark("floor:load-pull-next", shop.machine.pk).status_code == 403
    load.refresh_from_db()
    assert load.state == LoadState.WAITING


def test_an_inspector_is_led_to_what_waits_for_inspection(shop, inspectors_tablet, broken_out_load):
    page = inspectors_tablet.get("floor:machine-page", shop.machine.pk).content.decode()
    assert reverse("floor:inspect-list", args=[shop.machine.pk]) in page
    assert 'class="button next"' in page


def test_whoever_is_not_signed_in_is_sent_to_the_names(shop, tablet_of):
    answer = tablet_of().get("floor:machine-page", shop.machine.pk)
    assert answer.status_code == 302
    assert answer.url.startswith(reverse("accounts:sign-in"))


def test_a_person_without_a_role_sees_nothing(shop, tablet_of, people):
    assert tablet_of(people.nobody).get("floor:machine-page", shop.machine.pk).status_code == 403


def test_loads_stand_in_the_list_of_the_step_they_wait_for(shop, tablet, inspectors_tablet, load, people):
    to_break_out = reverse("floor:load-break-out", args=[load.pk])
    to_inspect = reverse("floor:load-inspect", args=[load.pk])

    def listed(who, name):
        return who.get(name, shop.machine.pk).content.decode()

    assert "Nothing to break out" in listed(tablet, "floor:break-out-list")
    pull_next(shop.machine, by=people.operator)
    mark_cut(load, by=people.operator)
    assert to_break_out in listed(tablet, "floor:break-out-list")
    assert "Nothing to inspect" in listed(inspectors_tablet, "floor:inspect-list")
    break_out(load, by=people.operator, numbers=[1, 2])
    assert to_break_out in listed(tablet, "floor:break-out-list")
    assert to_inspect in listed(inspectors_tablet, "floor:inspect-list")
    break_out(load, by=people.operator)
    inspect(load, all_good(load), by=people.inspector)
    assert "Nothing to break out" in listed(tablet, "floor:break-out-list")
    assert "Nothing to inspect" in listed(inspectors_tablet, "floor:inspect-list")
    assert str(load) in listed(tablet, "floor:ended-list")


def test_another_machines_loads_are_not_listed(shop, tablet, cut_load):
    other = MachineFactory(name="Other")
    assert "Nothing to break out" in tablet.get("floor:break-out-list", other.pk).content.decode()
