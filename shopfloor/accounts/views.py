"""Signing in at a desk or at a tablet, signing out, and one's own PIN and password. People are in `views_people`."""

from django.contrib import messages
from django.contrib.auth import login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopfloor.accounts import pin_sign_in
from shopfloor.accounts.forms import SignInForm
from shopfloor.accounts.models import User
from shopfloor.accounts.people import checked_password
from shopfloor.base.errors import BadInput, NotYourRole
from shopfloor.base.roles import MANAGER, OFFICE, may


@login_not_required
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Who are you? Asked at a desk; somebody who came for a floor page is asked at the tablet's page instead."""
    then = _safe_next(request)
    is_for_floor = then.startswith(reverse("floor:machine-choose"))
    if request.method == "GET" and is_for_floor and "desk" not in request.GET and pin_sign_in.people_with_pin():
        return redirect(f"{reverse('accounts:pin-choose')}?{urlencode({'next': then})}")
    form = SignInForm(request, data=request.POST or None)
    if request.method == "POST" and form.is_valid():
        login(request, form.get_user())
        return redirect(then or start_page(form.get_user()))
    has_pins = bool(pin_sign_in.people_with_pin())
    return render(request, "accounts/sign_in.html", {"form": form, "next": then, "has_pins": has_pins})


@login_not_required
@never_cache
@require_GET
def pin_choose(request: HttpRequest) -> HttpResponse:
    """Who are you? Everybody who has a PIN, to be tapped."""
    people = pin_sign_in.people_with_pin()
    return render(request, "accounts/pin_choose.html", {"people": people, "next": _safe_next(request)})


@login_not_required
@never_cache
@sensitive_post_parameters("pin")
@require_http_methods(["GET", "POST"])
def pin_enter(request: HttpRequest, person_id: int) -> HttpResponse:
    """What is your PIN?"""
    then = _safe_next(request)
    if request.method == "POST":
        pin_sign_in.sign_in_by_pin(request, person_id, request.POST.get("pin", "").strip())
        return redirect(then or "floor:machine-choose")
    person = next((each for each in pin_sign_in.people_with_pin() if each.pk == person_id), None)
    if person is None:
        raise Http404
    return render(request, "accounts/pin_enter.html", {"person": person, "next": then})


@login_not_required
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Signs out; `next` says where to go then, such as to the names on the tablet."""
    then = _safe_next(request)
    at_tablet = bool(request.session.get(pin_sign_in.SESSION_FLAG))
    logout(request)
    return redirect(then or ("accounts:pin-choose" if at_tablet else "accounts:sign-in"))


@require_GET
def me(request: HttpRequest) -> HttpResponse:
    """What do I sign in with?"""
    return render(request, "accounts/me.html", {"here": "me", "may_set_up": may(_person(request), "set-up-shop")})


@sensitive_post_parameters("pin", "old_pin")
@require_POST
def pin_set(request: HttpRequest) -> HttpResponse:
    """Sets one's own PIN. Whoever came in by PIN must know the old one: a tablet may have been left signed in."""
    person = _person(request)
    if person.signed_in_by_pin:
        pin_sign_in.check_pin(person.pk, request.POST.get("old_pin", "").strip())
    pin_sign_in.set_pin(person, request.POST.get("pin", "").strip())
    messages.success(request, "Your PIN is set. It opens the tablet from now on.")
    return redirect("accounts:me")


@sensitive_post_parameters()
@require_POST
def password_set(request: HttpRequest) -> HttpResponse:
    """Sets one's own password, given the old one. A PIN does not reach this far."""
    person = _person(request)
    if person.signed_in_by_pin:
        raise NotYourRole("Sign in with name and password to change your password.")
    if not person.check_password(request.POST.get("old_password", "")):
        raise BadInput("The old password is not right. Nothing was changed.", "old_password")
    person.set_password(checked_password(request.POST.get("password", ""), person))
    person.save(update_fields=["password"])
    update_session_auth_hash(request, person)
    messages.success(request, "Your password is changed. Other places where you were signed in are signed out.")
    return redirect("accounts:me")


def start_page(person: User) -> str:
    """Where a person begins: those who only work on the floor at the machine, all others at the order board."""
    office = person.is_superuser or person.role_names & {OFFICE, MANAGER}
    if person.signed_in_by_pin or (person.role_names and not office):
        return reverse("floor:machine-choose")
    return reverse("orders:order-board")


def _person(request: HttpRequest) -> User:
    assert isinstance(request.user, User)  # noqa: S101 - LoginRequiredMiddleware lets nobody else through
    return request.user


def _safe_next(request: HttpRequest) -> str:
    """The address to go to afterwards, where it is one of ours; else ""."""
    then = request.POST.get("next", request.GET.get("next", ""))
    is_ours = url_has_allowed_host_and_scheme(then, {request.get_host()}, require_https=request.is_secure())
    return then if is_ours else ""
