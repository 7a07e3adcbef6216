"""The people pages, for managers: who is there, a new person, one person."""

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopfloor.accounts import people, queries
from shopfloor.accounts.forms import NewPersonForm, PersonForm
from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput
from shopfloor.base.roles import role_needed


@require_GET
@role_needed("set-up-shop")
def person_list(request: HttpRequest) -> HttpResponse:
    """Who may do what, and who has a PIN?"""
    return render(request, "accounts/people.html", {"people": queries.people(), "here": "people"})


@sensitive_post_parameters("password", "pin")
@require_http_methods(["GET", "POST"])
@role_needed("set-up-shop")
def person_add(request: HttpRequest) -> HttpResponse:
    form = NewPersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        values = dict(form.cleaned_data)
        pin = values.pop("pin")
        try:
            with transaction.atomic():
                person = people.add_person(by=request.user, **values)
                if pin:
                    people.give_pin(person, pin, by=request.user)
        except BadInput as fault:
            form.add_error(fault.field if fault.field in form.fields else None, str(fault))
        else:
            messages.success(request, f"{person} can sign in now.")
            return redirect("accounts:person-list")
    status = 400 if form.errors else 200
    return render(request, "accounts/person_add.html", {"form": form, "here": "people"}, status=status)


@require_http_methods(["GET", "POST"])
@role_needed("set-up-shop")
def person_edit(request: HttpRequest, person_id: int) -> HttpResponse:
    """Name and roles; PIN, password and keeping out are forms of their own on the same page."""
    person = get_object_or_404(queries.people(), pk=person_id)
    roles = [group.name for group in person.groups.all()]
    start = {"first_name": person.first_name, "last_name": person.last_name, "roles": roles}
    form = PersonForm(request.POST or None, initial=start)
    if request.method == "POST" and form.is_valid():
        people.change_person(person, by=request.user, **form.cleaned_data)
        messages.success(request, f"{person}: saved.")
        return redirect("accounts:person-edit", person.pk)
    context = {"form": form, "person": person, "here": "people"}
    return render(request, "accounts/person_edit.html", context, status=400 if form.errors else 200)


@sensitive_post_parameters("pin")
@require_POST
@role_needed("set-up-shop")
def person_pin(request: HttpRequest, person_id: int) -> HttpResponse:
    """Gives a PIN, or takes it away where none is typed."""
    person = get_object_or_404(User, pk=person_id)
    pin = request.POST.get("pin", "").strip()
    people.give_pin(person, pin, by=request.user)
    messages.success(request, f"{person} has a new PIN." if pin else f"{person} has no PIN any more.")
    return redirect("accounts:person-edit", person.pk)


@sensitive_post_parameters("password")
@require_POST
@role_needed("set-up-shop")
def person_password(request: HttpRequest, person_id: int) -> HttpResponse:
    person = get_object_or_404(User, pk=person_id)
    people.give_password(person, request.POST.get("password", ""), by=request.user)
    messages.success(request, f"{person} has a new password. Tell them, and have them change it.")
    return redirect("accounts:person-edit", person.pk)


@require_POST
@role_needed("set-up-shop")
def person_keep_out(request: HttpRequest, person_id: int) -> HttpResponse:
    person = get_object_or_404(User, pk=person_id)
    people.keep_out(person, by=request.user)
    messages.success(request, f"{person} can no longer sign in.")
    return redirect("accounts:person-edit", person.pk)


@require_POST
@role_needed("set-up-shop")
def person_let_in(request: HttpRequest, person_id: int) -> HttpResponse:
    person = get_object_or_404(User, pk=person_id)
    people.let_in(person, by=request.user)
    messages.success(request, f"{person} can sign in again.")
    return redirect("accounts:person-edit", person.pk)
