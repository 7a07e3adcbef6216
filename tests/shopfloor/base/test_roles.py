import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from shopfloor.base.errors import NotYourRole
from shopfloor.base.roles import (
    FLOOR_VERBS,
    INSPECTOR,
    MANAGER,
    MAY,
    OPERATOR,
    ROLES,
    may,
    require,
    role_needed,
)
from tests.factories.accounts import person

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("verb", MAY)
def test_each_verb_is_open_to_its_roles_and_a_manager_and_to_no_other(verb):
    for role in ROLES:
        assert may(person(role), verb) == (role in MAY[verb] or role == MANAGER)
    assert not may(person(), verb)


def test_several_roles_add_up():
    both = person(OPERATOR, INSPECTOR)
    assert may(both, "mark-cut")
    assert may(both, "inspect")
    assert not may(both, "enter-order")


def test_the_server_itself_is_not_asked():
    assert all(may(None, verb) for verb in MAY)


@pytest.mark.parametrize("role", ROLES)
def test_a_pin_opens_the_floor_alone_even_to_a_manager(role):
    by_pin = person(role)
    by_pin.signed_in_by_pin = True
    for verb in MAY:
        assert may(by_pin, verb) == (verb in FLOOR_VERBS and (role in MAY[verb] or role == MANAGER))


def test_a_pin_opens_no_more_to_a_superuser():
    by_pin = person()
    by_pin.is_superuser = by_pin.signed_in_by_pin = True
    assert may(by_pin, "inspect")
    assert not may(by_pin, "set-up-shop")


def test_a_refusal_names_the_roles_that_may(people):
    with pytest.raises(NotYourRole, match=r"takes the role inspector or manager or operator\. Ask a manager\."):
        require(people.office, "break-out")
    people.manager.signed_in_by_pin = True
    with pytest.raises(NotYourRole, match="sign in with name and password"):
        require(people.manager, "enter-order")


def test_a_verb_that_nobody_listed_is_a_fault_of_ours(people):
    with pytest.raises(KeyError):
        may(people.manager, "paint")


def test_a_view_runs_only_for_those_who_may(people):
    @role_needed("inspect")
    def view(request):
        return HttpResponse("seen")

    request = RequestFactory().get("/")
    request.user = people.inspector
    assert view(request).content == b"seen"
    request.user = people.office
    with pytest.raises(NotYourRole):
        view(request)
