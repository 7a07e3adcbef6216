"""Who may do what: one table from verb to roles, used by pages, API and verbs alike.

Roles are Django groups of these names, so one person may have several. A manager may do everything. Work that the
server does by itself has no person (`None`) and is not asked.
"""

from collections.abc import Callable
from functools import wraps
from typing import Protocol

from django.http import HttpRequest, HttpResponseBase

from shopfloor.base.errors import NotYourRole

OFFICE, OPERATOR, INSPECTOR, MANAGER = "office", "operator", "inspector", "manager"
ROLES = (OFFICE, OPERATOR, INSPECTOR, MANAGER)

_SEE = frozenset(ROLES)
MAY: dict[str, frozenset[str]] = {
    "see": _SEE,
    "enter-order": frozenset({OFFICE}),
    "cancel-order": frozenset({OFFICE}),
    "hand-over-order": frozenset({OFFICE}),
    "correct-stock": frozenset({OFFICE, OPERATOR}),
    "set-up-shop": frozenset(),
    "nest": frozenset({OFFICE, OPERATOR}),
    "release-nest": frozenset({OFFICE, OPERATOR}),
    "throw-nest-away": frozenset({OFFICE, OPERATOR}),
    "pull-load": frozenset({OPERATOR}),
    "check-centring": frozenset({OPERATOR}),
    "mark-cut": frozenset({OPERATOR}),
    "mark-failed": frozenset({OPERATOR}),
    "break-out": frozenset({OPERATOR, INSPECTOR}),
    "inspect": frozenset({INSPECTOR}),
}
"""Roles beside manager that may do each verb."""

FLOOR_VERBS = frozenset({"see", "pull-load", "check-centring", "mark-cut", "mark-failed", "break-out", "inspect"})
"""All that a person signed in by PIN alone may do: a PIN is short and typed in sight of others."""


class Person(Protocol):
    """Whoever asks for a verb, as `accounts.User` describes them."""

    is_superuser: bool
    signed_in_by_pin: bool

    @property
    def role_names(self) -> frozenset[str]:
        """The roles the person has."""


def may(person: Person | None, verb: str) -> bool:
    """Whether the person may do the verb; an unknown verb is a fault of ours and raises KeyError."""
    allowed = MAY[verb]
    if person is None:
        return True
    if getattr(person, "signed_in_by_pin", False) and verb not in FLOOR_VERBS:
        return False
    return person.is_superuser or MANAGER in person.role_names or bool(allowed & person.role_names)


def require(person: Person | None, verb: str) -> None:
    """Raises NotYourRole, with the roles that may, where the person may not do the verb."""
    if not may(person, verb):
        roles = " or ".join(sorted(MAY[verb] | {MANAGER}))
        if getattr(person, "signed_in_by_pin", False) and verb not in FLOOR_VERBS:
            raise NotYourRole("This is office work: sign in with name and password to do it.")
        raise NotYourRole(f"{person} may not do this: it takes the role {roles}. Ask a manager.")


def role_needed[**P, R: HttpResponseBase](verb: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """A view decorator: the view runs only for a person who may do the verb; else NotYourRole is raised for the
    middleware that turns refusals into pages.
    """

    def wrap(view: Callable[P, R]) -> Callable[P, R]:
        @wraps(view)
        def checked(*args: P.args, **kwargs: P.kwargs) -> R:
            request = args[0]
            assert isinstance(request, HttpRequest)  # noqa: S101 - a wiring fault, not an input
            require(request.user, verb)  # type: ignore[arg-type]
            return view(*args, **kwargs)

        return checked

    return wrap
