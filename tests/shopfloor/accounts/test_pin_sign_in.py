from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth import login
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.test import RequestFactory
from django.utils import timezone

from shopfloor.accounts.models import User
from shopfloor.accounts.pin_sign_in import (
    LOCKED_FOR,
    MOST_FAILURES,
    SHIFT_SECONDS,
    PinMiddleware,
    check_pin,
    people_with_pin,
    set_pin,
    sign_in_by_pin,
)
from shopfloor.base.errors import BadInput, Refused
from shopfloor.base.roles import INSPECTOR, MANAGER, OFFICE, OPERATOR, may
from tests.factories.accounts import person

pytestmark = pytest.mark.django_db

BY_PASSWORD = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def ada():
    ada = person(OPERATOR)
    set_pin(ada, "4711")
    return ada


@pytest.fixture
def request_of(client):
    """Makes requests of one tablet, whose session stays the same."""

    def make(path="/"):
        request = RequestFactory().get(path)
        request.session = client.session
        return request

    return make


def refused(guess):
    with pytest.raises(Refused) as refusal:
        guess()
    return refusal.value.code


def test_the_right_pin_opens_and_a_wrong_one_does_not(ada):
    assert check_pin(ada.pk, "4711") == ada
    assert refused(lambda: check_pin(ada.pk, "4712")) == "pin-wrong"


def test_a_pin_is_stored_hashed(ada):
    assert "4711" not in User.objects.get(pk=ada.pk).pin


@pytest.mark.parametrize(
    "pin", ["", "123", "1234567", "12a4", "1234", "0000", "345678", "12 4", "\u0661\u0662\u0665\u0664"]
)
def test_a_pin_that_is_too_short_too_easy_or_no_digits_is_refused(ada, pin):
    before = User.objects.get(pk=ada.pk).pin
    with pytest.raises(BadInput) as refusal:
        set_pin(ada, pin)
    assert refusal.value.field == "pin"
    assert User.objects.get(pk=ada.pk).pin == before


def test_nobody_without_a_pin_and_nobody_kept_out_gets_in(ada):
    assert refused(lambda: check_pin(person(OPERATOR).pk, "")) == "pin-wrong"
    assert refused(lambda: check_pin(10**9, "4711")) == "pin-wrong"
    User.objects.filter(pk=ada.pk).update(is_active=False)
    assert refused(lambda: check_pin(ada.pk, "4711")) == "pin-wrong"


def test_five_wrong_pins_lock_even_the_right_one_for_a_while(ada):
    with time_machine.travel(timezone.now(), tick=False) as clock:
        for _ in range(MOST_FAILURES):
            assert refused(lambda: check_pin(ada.pk, "9999")) == "pin-wrong"
        with pytest.raises(Refused, match=r"Wait 5 min") as refusal:
            check_pin(ada.pk, "4711")
        assert refusal.value.code == "pin-locked"
        clock.shift(LOCKED_FOR - timedelta(seconds=1))
        with pytest.raises(Refused, match=r"Wait 1 min"):
            check_pin(ada.pk, "4711")
        clock.shift(2)
        assert check_pin(ada.pk, "4711") == ada


def test_the_right_pin_forgets_wrong_ones(ada):
    for _ in range(3):
        for _ in range(MOST_FAILURES - 1):
            refused(lambda: check_pin(ada.pk, "9999"))
        assert check_pin(ada.pk, "4711") == ada


def test_the_right_pin_at_the_last_guess_opens_and_locks_nothing(ada):
    for _ in range(MOST_FAILURES - 1):
        refused(lambda: check_pin(ada.pk, "9999"))
    assert check_pin(ada.pk, "4711") == ada
    assert check_pin(ada.pk, "4711") == ada


def test_wrong_pins_of_one_do_not_lock_another(ada):
    bo = person(INSPECTOR)
    set_pin(bo, "8264")
    for _ in range(MOST_FAILURES):
        refused(lambda: check_pin(ada.pk, "9999"))
    assert check_pin(bo.pk, "8264") == bo


def test_a_new_pin_opens_a_locked_one(ada):
    for _ in range(MOST_FAILURES):
        refused(lambda: check_pin(ada.pk, "9999"))
    ada.refresh_from_db()
    set_pin(ada, "2580")
    assert check_pin(ada.pk, "2580") == ada


@pytest.mark.django_db(transaction=True)
def test_eight_guesses_at_once_are_counted_one_by_one(ada, at_once):
    codes = at_once(8, lambda _: refused(lambda: check_pin(ada.pk, "9999")))
    assert sorted(codes) == ["pin-locked"] * 3 + ["pin-wrong"] * 5


def test_only_people_of_the_floor_with_a_pin_can_be_tapped(ada):
    boss, writer, both = person(MANAGER), person(OFFICE), person(OPERATOR, INSPECTOR)
    for each in (boss, writer, both):
        set_pin(each, "4711")
    person(INSPECTOR)
    gone = person(OPERATOR)
    set_pin(gone, "4711")
    User.objects.filter(pk=gone.pk).update(is_active=False)
    assert sorted(p.pk for p in people_with_pin()) == sorted([ada.pk, boss.pk, both.pk])


class TestSignedIn:
    def seen_by(self, request):
        """The person as the pages see them."""
        request.user = User.objects.get(pk=request.session["_auth_user_id"])
        PinMiddleware(lambda request: HttpResponse())(request)
        return request.user

    def test_by_pin_the_floor_is_open_and_the_office_is_not(self, request_of):
        boss = person(MANAGER)
        set_pin(boss, "4711")
        request = request_of()
        sign_in_by_pin(request, boss.pk, "4711")
        seen = self.seen_by(request)
        assert seen.signed_in_by_pin
        assert may(seen, "inspect")
        assert not may(seen, "enter-order")

    def test_it_ends_with_the_shift(self, request_of, ada):
        request = request_of()
        sign_in_by_pin(request, ada.pk, "4711")
        assert request.session.get_expiry_age() == SHIFT_SECONDS

    def test_with_a_wrong_pin_nobody_is_signed_in(self, request_of, ada):
        request = request_of()
        assert refused(lambda: sign_in_by_pin(request, ada.pk, "4712")) == "pin-wrong"
        assert "_auth_user_id" not in request.session

    def test_signing_in_with_the_password_afterwards_opens_everything(self, request_of):
        boss = person(MANAGER)
        set_pin(boss, "4711")
        request = request_of()
        sign_in_by_pin(request, boss.pk, "4711")
        login(request, boss, backend=BY_PASSWORD)
        seen = self.seen_by(request)
        assert not seen.signed_in_by_pin
        assert may(seen, "enter-order")
        assert request.session.get_expiry_age() > SHIFT_SECONDS

    def test_a_pin_closes_what_a_password_had_opened(self, request_of):
        boss = person(MANAGER)
        set_pin(boss, "4711")
        request = request_of()
        login(request, boss, backend=BY_PASSWORD)
        sign_in_by_pin(request, boss.pk, "4711")
        assert not may(self.seen_by(request), "enter-order")

    @pytest.mark.parametrize("path", ["/admin/", "/admin/accounts/user/1/change/"])
    def test_a_pin_does_not_open_the_administration_even_to_staff(self, request_of, path):
        boss = person(MANAGER)
        User.objects.filter(pk=boss.pk).update(is_staff=True, is_superuser=True)
        set_pin(boss, "4711")
        request = request_of(path)
        sign_in_by_pin(request, boss.pk, "4711")
        with pytest.raises(PermissionDenied):
            self.seen_by(request)

    def test_a_request_of_nobody_passes(self, request_of):
        request = request_of()
        request.user = None
        assert PinMiddleware(lambda request: HttpResponse("passed"))(request).content == b"passed"
