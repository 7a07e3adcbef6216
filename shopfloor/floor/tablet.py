"""What one tablet remembers of itself, and how a mark sent by it is answered.

A tablet stands at one machine and is used by many people, so its machine and the side of its next button are cookies of
the tablet and not of whoever is signed in.
"""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, resolve_url
from django_htmx.http import HttpResponseClientRedirect

from shopfloor.stock.models import Machine

MACHINE, HAND = "floor_machine", "floor_hand"
YEAR_S = 365 * 24 * 3600


def remembered_machine(request: HttpRequest) -> Machine | None:
    """The machine this tablet stands at, where it was chosen and is still in use."""
    chosen = request.COOKIES.get(MACHINE, "")
    return Machine.objects.filter(pk=int(chosen), in_use=True).first() if chosen.isdecimal() else None


def remember(answer: HttpResponse, name: str, value: object) -> HttpResponse:
    """The answer, with the cookie `name` set for a year."""
    answer.set_cookie(name, str(value), max_age=YEAR_S, httponly=True, samesite="Lax")
    return answer


def hand_of(request: HttpRequest) -> str:
    """The side of the next button: "right" unless the tablet was told "left"."""
    return "left" if request.COOKIES.get(HAND) == "left" else "right"


def went_well(request: HttpRequest, to: str, *args: Any) -> HttpResponse:
    """Sends on to the page `to` after a mark.

    A mark sent by the tablet's own sender carries htmx's header and is answered 200 with the address in a header: that
    cannot be mistaken for the redirect to the sign-in page of a session that has ended.
    """
    url = resolve_url(to, *args)
    return HttpResponseClientRedirect(url) if getattr(request, "htmx", False) else redirect(url)
