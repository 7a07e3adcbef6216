"""Signing in at a desk and at a tablet, signing out, and one's own PIN and password."""

import pytest
from django.test import Client
from django.urls import reverse

from shopfloor.accounts.models import User
from shopfloor.accounts.pin_sign_in import MOST_FAILURES, set_pin
from shopfloor.base.roles import INSPECTOR, MANAGER, OFFICE, OPERATOR
from tests.factories.accounts import person

pytestmark = pytest.mark.django_db

PASSWORD = "planter-gate-22"


@pytest.fixture
def worker():
    """Makes a person with a password and a PIN."""

    def make(*roles, pin="2580"):
        someone = person(*roles)
        someone.first_name = someone.username.capitalize()
        someone.set_password(PASSWORD)
        someone.save(update_fields=["first_name", "password"])
        if pin:
            set_pin(someone, pin)
        return someone

    return make


def sign_in(client, someone, password=PASSWORD, **more):
    return client.post(reverse("accounts:sign-in"), {"username": someone.username, "password": password, **more})


def enter_pin(client, someone, pin="2580", **more):
    return client.post(reverse("accounts:pin-enter", args=[someone.pk]), {"pin": pin, **more})


def signed_in(client):
    return client.session.get("_auth_user_id")


@pytest.mark.parametrize(
    ("roles", "start"),
    [
        ((OPERATOR,), "floor:machine-choose"),
        ((INSPECTOR, OPERATOR), "floor:machine-choose"),
        ((OFFICE,), "orders:order-board"),
        ((OFFICE, OPERATOR), "orders:order-board"),
        ((MANAGER,), "orders:order-board"),
    ],
)
def test_everybody_begins_where_their_work_is(client, worker, roles, start):
    assert sign_in(client, worker(*roles)).url == reverse(start)


def test_whoever_wanted_a_page_gets_it_after_signing_in(client, worker):
    assert sign_in(client, worker(OFFICE), next="/stock/").url == "/stock/"


@pytest.mark.parametrize(
    "address", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)", "\\\\e"]
)
def test_no_address_of_another_site_is_followed(client, worker, address):
    someone = worker(OFFICE)
    assert sign_in(client, someone, next=address).url == reverse("orders:order-board")
    assert enter_pin(Client(), worker(OPERATOR), next=address).url == reverse("floor:machine-choose")


def test_a_wrong_password_is_said_in_words_and_keeps_the_name(client, worker):
    someone = worker(OFFICE)
    page = sign_in(client, someone, "wrong").content.decode()
    assert "do not belong together" in page
    assert someone.username in page
    assert signed_in(client) is None


def test_five_wrong_passwords_close_the_name_for_a_while_and_say_so(client, worker):
    someone, other = worker(OFFICE), worker(OFFICE)
    for _ in range(5):
        answer = sign_in(client, someone, "wrong")
    assert answer.status_code == 429
    page = answer.content.decode()
    assert "Wait a moment" in page
    assert "15\u202fmin" in page
    assert sign_in(client, someone).status_code == 429
    # The whole shop has one address: the others go on.
    assert sign_in(client, other).status_code == 302


def test_a_floor_page_asks_for_the_name_and_pin_and_a_desk_page_for_the_password(client, worker):
    worker(OPERATOR)
    assert client.get("/floor/", follow=True).redirect_chain[-1][0].startswith(reverse("accounts:pin-choose"))
    assert "Password" in client.get("/", follow=True).content.decode()
    assert "Password" in client.get(reverse("accounts:sign-in"), {"next": "/floor/", "desk": "1"}).content.decode()


def test_without_any_pin_the_floor_asks_for_the_password(client, worker):
    worker(OPERATOR, pin="")
    assert "Password" in client.get("/floor/", follow=True).content.decode()
    assert "Nobody has a PIN yet" in client.get(reverse("accounts:pin-choose")).content.decode()


def test_a_name_is_tapped_and_the_pin_typed(client, worker):
    someone = worker(OPERATOR)
    assert str(someone) in client.get(reverse("accounts:pin-choose")).content.decode()
    assert "your PIN" in client.get(reverse("accounts:pin-enter", args=[someone.pk])).content.decode()
    assert enter_pin(client, someone, next="/floor/?choose=1").url == "/floor/?choose=1"
    assert signed_in(client) == str(someone.pk)


def test_a_wrong_pin_comes_back_to_the_pad_with_a_sentence(client, worker):
    someone = worker(OPERATOR)
    url = reverse("accounts:pin-enter", args=[someone.pk])
    back = client.post(url, {"pin": "1111"}, headers={"Referer": f"http://testserver{url}"}, follow=True)
    assert "The PIN is not right" in back.content.decode()
    assert signed_in(client) is None


def test_too_many_wrong_pins_close_the_pad_but_not_the_password(client, worker):
    someone = worker(OPERATOR)
    for _ in range(MOST_FAILURES):
        enter_pin(client, someone, "1111")
    answer = enter_pin(client, someone)
    assert answer.status_code == 409
    assert "Too many wrong PINs" in answer.content.decode()
    assert sign_in(client, someone).status_code == 302


@pytest.mark.parametrize("pin", ["", "abc", "2580' or 1=1", "²⁵⁸⁰", "9" * 500])
def test_a_strange_pin_is_a_wrong_pin(client, worker, pin):
    assert enter_pin(client, worker(OPERATOR), pin).status_code == 409
    assert signed_in(client) is None


def test_people_of_the_office_and_people_kept_out_are_not_on_the_tablet(client, worker):
    clerk, gone = worker(OFFICE), worker(OPERATOR)
    User.objects.filter(pk=gone.pk).update(is_active=False)
    assert client.get(reverse("accounts:pin-enter", args=[clerk.pk])).status_code == 404
    assert client.get(reverse("accounts:pin-enter", args=[gone.pk])).status_code == 404
    assert enter_pin(client, gone).status_code == 409


def test_a_manager_signed_in_by_pin_reaches_the_floor_only(client, worker):
    manager = worker(MANAGER)
    assert enter_pin(client, manager).url == reverse("floor:machine-choose")
    assert client.get("/floor/").status_code == 200
    assert client.get(reverse("accounts:person-list")).status_code == 403


def test_switching_leads_to_the_names_and_back_to_the_page(client, worker):
    first, second = worker(OPERATOR), worker(INSPECTOR)
    enter_pin(client, first)
    names = f"{reverse('accounts:pin-choose')}?next=/floor/loads/3/"
    assert client.post(reverse("accounts:sign-out"), {"next": names}).url == names
    assert signed_in(client) is None
    assert "next=/floor/loads/3/" in client.get(names).content.decode()
    assert enter_pin(client, second, next="/floor/loads/3/").url == "/floor/loads/3/"


def test_signing_out_leads_back_to_the_way_one_came_in(client, worker):
    someone = worker(OPERATOR)
    enter_pin(client, someone)
    assert client.post(reverse("accounts:sign-out")).url == reverse("accounts:pin-choose")
    sign_in(client, someone)
    assert client.post(reverse("accounts:sign-out")).url == reverse("accounts:sign-in")
    assert client.get(reverse("accounts:sign-out")).status_code == 405


def test_ones_own_pin_is_set_at_the_desk(client, worker):
    someone = worker(OPERATOR, pin="")
    sign_in(client, someone)
    assert "You have no PIN yet" in client.get(reverse("accounts:me")).content.decode()
    assert client.post(reverse("accounts:pin-set"), {"pin": "7193"}).status_code == 302
    assert enter_pin(Client(), someone, "7193").status_code == 302


@pytest.mark.parametrize("pin", ["12", "1234", "7777", "12345678", "abcd"])
def test_a_pin_that_is_easy_to_guess_is_refused(client, worker, pin):
    someone = worker(OPERATOR)
    sign_in(client, someone)
    assert client.post(reverse("accounts:pin-set"), {"pin": pin}).status_code == 400
    assert enter_pin(Client(), someone, "2580").status_code == 302


def test_on_the_tablet_a_new_pin_takes_the_old_one(client, worker):
    someone = worker(OPERATOR)
    enter_pin(client, someone)
    assert client.post(reverse("accounts:pin-set"), {"pin": "7193", "old_pin": "0000"}).status_code == 409
    assert client.post(reverse("accounts:pin-set"), {"pin": "7193", "old_pin": "2580"}).status_code == 302
    assert enter_pin(Client(), someone, "7193").status_code == 302


def test_a_password_is_changed_with_the_old_one_and_other_places_are_signed_out(client, worker):
    someone, elsewhere = worker(OFFICE), Client()
    sign_in(client, someone)
    sign_in(elsewhere, someone)
    url = reverse("accounts:password-set")
    assert client.post(url, {"old_password": "wrong", "password": "market-stall-9"}).status_code == 400
    assert client.post(url, {"old_password": PASSWORD, "password": "short"}).status_code == 400
    assert client.post(url, {"old_password": PASSWORD, "password": "market-stall-9"}).status_code == 302
    assert client.get(reverse("accounts:me")).status_code == 200
    assert elsewhere.get(reverse("accounts:me")).status_code == 302


def test_a_pin_does_not_reach_the_password(client, worker):
    someone = worker(OPERATOR)
    enter_pin(client, someone)
    fields = {"old_password": PASSWORD, "password": "market-stall-9"}
    assert client.post(reverse("accounts:password-set"), fields).status_code == 403
    someone.refresh_from_db()
    assert someone.check_password(PASSWORD)


def test_the_names_ask_the_database_as_often_for_many_as_for_one(client, worker, django_assert_num_queries):
    worker(OPERATOR)
    client.get(reverse("accounts:pin-choose"))
    for _ in range(6):
        worker(OPERATOR, INSPECTOR)
    with django_assert_num_queries(1):
        client.get(reverse("accounts:pin-choose"))
