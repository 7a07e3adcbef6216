"""Short sign-in on a shared tablet: a person taps their name and types a PIN of four to six digits.

A PIN is short and seen by others, so it opens only the floor (`base.roles.FLOOR_VERBS`), and five wrong ones lock the
person's PIN for a while. The session remembers that it was opened by PIN; the middleware tells the roles.
"""

from collections.abc import Callable
from datetime import timedelta

from django.contrib.auth import login, user_logged_in
from django.contrib.auth.hashers import check_password, make_password
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, Refused
from shopfloor.base.roles import INSPECTOR, MANAGER, OPERATOR

MOST_FAILURES = 5
LOCKED_FOR = timedelta(minutes=5)
SESSION_FLAG = "signed_in_by_pin"
SHIFT_SECONDS = 10 * 3600
"""A tablet is signed out after a long shift even if nobody does it."""

FLOOR_ROLES = (OPERATOR, INSPECTOR, MANAGER)


def people_with_pin() -> list[User]:
    """Who may be tapped on the sign-in page, by name."""
    people = User.objects.filter(is_active=True, groups__name__in=FLOOR_ROLES).exclude(pin="").distinct()
    return list(people.order_by("first_name", "username"))


def set_pin(person: User, pin: str) -> None:
    """Gives the person a PIN.

    Raises:
        BadInput: it is not four to six digits, or all alike or counting up.
    """
    if not (pin.isascii() and pin.isdigit() and 4 <= len(pin) <= 6):
        raise BadInput("A PIN is four to six digits.", "pin")
    if len(set(pin)) == 1 or pin in "0123456789":
        raise BadInput("This PIN is too easy to guess. Take one that is not all alike or counting up.", "pin")
    person.pin, person.pin_failures, person.pin_locked_until = make_password(pin), 0, None
    person.save(update_fields=["pin", "pin_failures", "pin_locked_until"])


def check_pin(person_id: int, pin: str) -> User:
    """The person, where the PIN is right.

    Raises:
        Refused: code `pin-wrong` or `pin-locked`; both look alike for an unknown person.
    """
    person = _counted_guess(person_id)
    # Checked outside the transaction: hashing takes a good part of a second, in which nobody else may have to wait.
    if not check_password(pin, person.pin):
        raise Refused("The PIN is not right. Try again.", "pin-wrong")
    User.objects.filter(pk=person.pk).update(pin_failures=0, pin_locked_until=None)
    return person


@transaction.atomic
def _counted_guess(person_id: int) -> User:
    """The person, with one guess more counted as wrong until it turns out right."""
    now = timezone.now()
    # Locked so that guesses sent at the same time are counted one by one.
    person = User.objects.select_for_update().filter(pk=person_id, is_active=True).exclude(pin="").first()
    if person is None:
        raise Refused("The PIN is not right. Try again.", "pin-wrong")
    if person.pin_locked_until and person.pin_locked_until > now:
        minutes = -(-(person.pin_locked_until - now).seconds // 60)
        raise Refused(f"Too many wrong PINs. Wait {minutes} min, or sign in with name and password.", "pin-locked")
    person.pin_failures += 1
    if person.pin_failures >= MOST_FAILURES:
        person.pin_failures, person.pin_locked_until = 0, now + LOCKED_FOR
    person.save(update_fields=["pin_failures", "pin_locked_until"])
    return person


def sign_in_by_pin(request: HttpRequest, person_id: int, pin: str) -> User:
    """Signs the person in on this tablet, for the floor only."""
    person = check_pin(person_id, pin)
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    request.session[SESSION_FLAG] = True
    request.session.set_expiry(SHIFT_SECONDS)
    return person


@receiver(user_logged_in)
def forget_the_pin(request: HttpRequest, **_: object) -> None:
    """Somebody signed in anew: a session that stays, since it is the same person, is not a PIN's any more."""
    if request.session.pop(SESSION_FLAG, False):
        request.session.set_expiry(None)


class PinMiddleware:
    """Tells the user object of each request whether it was signed in by PIN, and keeps a PIN out of the administration,
    which knows no verbs.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.session.get(SESSION_FLAG) and request.user.is_authenticated:
            request.user.signed_in_by_pin = True
            if request.path.startswith(reverse("admin:index")):
                raise PermissionDenied("Sign in with name and password for this.")
        return self.get_response(request)
