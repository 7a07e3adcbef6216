"""The people pages: for managers alone, and what they refuse."""

import pytest
from django.test import Client
from django.urls import reverse

from shopfloor.accounts.models import User
from shopfloor.base.roles import INSPECTOR, MANAGER, OFFICE, OPERATOR
from tests.factories.accounts import person

pytestmark = pytest.mark.django_db

NEW = {"first_name": "Ines", "last_name": "Ferro", "username": "ines", "roles": [OPERATOR, INSPECTOR]}


@pytest.fixture
def manager():
    return person(MANAGER)


@pytest.fixture
def desk(client, manager):
    client.force_login(manager)
    return client


def test_a_person_is_added_and_can_sign_in_by_pin(desk):
    answer = desk.post(reverse("accounts:person-add"), {**NEW, "pin": "2580"})
    assert answer.url == reverse("accounts:person-list")
    ines = User.objects.get(username="ines")
    assert (str(ines), ines.role_names, ines.has_usable_password()) == ("Ines Ferro", {OPERATOR, INSPECTOR}, False)
    assert Client().post(reverse("accounts:pin-enter", args=[ines.pk]), {"pin": "2580"}).status_code == 302


def test_a_person_is_added_with_a_password(desk):
    desk.post(reverse("accounts:person-add"), {**NEW, "password": "planter-gate-22"})
    assert User.objects.get(username="ines").check_password("planter-gate-22")


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"first_name": " "}, "This field is required"),
        ({"username": "no spaces"}, "letters, digits"),
        ({"username": ""}, "This field is required"),
        ({"roles": ["owner"]}, "owner is not one of the available choices"),
        ({"password": "short"}, "too short"),
        ({"pin": "1234"}, "too easy to guess"),
        ({"pin": "12"}, "four to six digits"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_what_was_typed_stays(desk, wrong, says):
    answer = desk.post(reverse("accounts:person-add"), {**NEW, **wrong})
    assert answer.status_code == 400
    page = answer.content.decode()
    assert says in page
    assert "Ferro" in page
    assert not User.objects.filter(last_name="Ferro").exists()


def test_a_sign_in_name_is_given_once(desk):
    desk.post(reverse("accounts:person-add"), NEW)
    answer = desk.post(reverse("accounts:person-add"), {**NEW, "username": "INES"})
    assert "is taken" in answer.content.decode()
    assert User.objects.filter(first_name="Ines").count() == 1


def test_name_and_roles_are_changed(desk):
    someone = person(OPERATOR)
    fields = {"first_name": "Tomek", "last_name": "", "roles": [OFFICE]}
    assert desk.post(reverse("accounts:person-edit", args=[someone.pk]), fields).status_code == 302
    someone = User.objects.get(pk=someone.pk)
    assert (str(someone), someone.role_names) == ("Tomek", {OFFICE})


def test_the_last_manager_stays_one(desk, manager):
    fields = {"first_name": "Mara", "roles": [OFFICE]}
    answer = desk.post(reverse("accounts:person-edit", args=[manager.pk]), fields)
    assert answer.status_code == 409
    assert "last manager" in answer.content.decode()
    person(MANAGER)
    assert desk.post(reverse("accounts:person-edit", args=[manager.pk]), fields).status_code == 302


def test_a_pin_is_given_and_taken_away(desk):
    someone = person(OPERATOR)
    url = reverse("accounts:person-pin", args=[someone.pk])
    desk.post(url, {"pin": "2580"})
    someone.refresh_from_db()
    assert someone.pin
    desk.post(url, {"pin": ""})
    someone.refresh_from_db()
    assert someone.pin == ""


def test_a_new_pin_opens_a_locked_one(desk):
    someone = person(OPERATOR)
    url = reverse("accounts:person-pin", args=[someone.pk])
    desk.post(url, {"pin": "2580"})
    pad = reverse("accounts:pin-enter", args=[someone.pk])
    for _ in range(5):
        Client().post(pad, {"pin": "0000"})
    assert Client().post(pad, {"pin": "2580"}).status_code == 409
    desk.post(url, {"pin": "7193"})
    assert Client().post(pad, {"pin": "7193"}).status_code == 302


def test_a_forgotten_password_is_set_anew(desk):
    someone = person(OFFICE)
    url = reverse("accounts:person-password", args=[someone.pk])
    assert desk.post(url, {"password": "short"}).status_code == 400
    assert desk.post(url, {"password": "market-stall-9"}).status_code == 302
    someone.refresh_from_db()
    assert someone.check_password("market-stall-9")


def test_a_person_kept_out_is_signed_out_with_the_next_tap_and_may_come_back(desk):
    someone, tablet = person(OPERATOR), Client()
    tablet.force_login(someone)
    assert tablet.get("/floor/").status_code == 200
    desk.post(reverse("accounts:person-keep-out", args=[someone.pk]))
    assert tablet.get("/floor/").status_code == 302
    assert "kept out" in desk.get(reverse("accounts:person-list")).content.decode()
    desk.post(reverse("accounts:person-let-in", args=[someone.pk]))
    someone.refresh_from_db()
    assert someone.is_active


def test_nobody_keeps_themselves_or_the_last_manager_out(desk, manager):
    assert desk.post(reverse("accounts:person-keep-out", args=[manager.pk])).status_code == 409
    second = person(MANAGER)
    assert desk.post(reverse("accounts:person-keep-out", args=[second.pk])).status_code == 302
    manager.refresh_from_db()
    assert manager.is_active


@pytest.mark.parametrize("role", [OFFICE, OPERATOR, INSPECTOR])
def test_people_are_a_managers_business(client, role):
    someone = person(role)
    client.force_login(someone)
    for name, args in (("person-list", []), ("person-add", []), ("person-edit", [someone.pk])):
        assert client.get(reverse(f"accounts:{name}", args=args)).status_code == 403
    for name in ("person-pin", "person-password", "person-keep-out", "person-let-in"):
        assert client.post(reverse(f"accounts:{name}", args=[someone.pk])).status_code == 403


def test_the_list_asks_the_database_as_often_for_many_as_for_one(desk, django_assert_num_queries):
    url = reverse("accounts:person-list")
    for _ in range(8):
        person(OPERATOR, INSPECTOR)
    # Session, person, their roles, the people, the roles of all of them.
    with django_assert_num_queries(5):
        assert desk.get(url).status_code == 200
