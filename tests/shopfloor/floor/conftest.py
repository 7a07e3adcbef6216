"""Tablets with somebody signed in, and loads at every stage."""

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from shopfloor.floor.mark import break_out, mark_cut
from shopfloor.floor.pull import pull
from tests.factories.orders import ConfirmedOrderFactory, CustomerFactory


class Tablet:
    """One person's tablet: pages by URL name; marks are sent as the tablet's own sender does."""

    def __init__(self, person=None):
        self.client = Client()
        if person is not None:
            self.client.force_login(person)

    def get(self, name, *args, **params):
        return self.client.get(reverse(name, args=args), params)

    def post(self, name, *args, **fields):
        """A form sent by the browser itself."""
        return self.client.post(reverse(name, args=args), {"key": uuid.uuid4(), **fields})

    def mark(self, name, *args, **fields):
        """A form sent by the sender of marks."""
        return self.client.post(
            reverse(name, args=args), {"key": uuid.uuid4(), **fields}, headers={"HX-Request": "true"}
        )


@pytest.fixture
def tablet(people):
    return Tablet(people.operator)


@pytest.fixture
def inspectors_tablet(people):
    return Tablet(people.inspector)


@pytest.fixture
def tablet_of(db):
    return Tablet


@pytest.fixture
def load(shop):
    """A sheet with pieces 1 to 4 for one order and 5 to 6 for a later one, waiting at the machine."""
    shop.sheets(on_hand=3, heat_no="H1", place="Rack 2")
    first = ConfirmedOrderFactory(customer=CustomerFactory(name="Plot 9 Allotments"))
    line = shop.line(4, order=first)
    shop.line(2, part=line.part)
    return shop.loads(line)[0]


@pytest.fixture
def load_in_hand(load, people):
    return pull(load, by=people.operator)


@pytest.fixture
def cut_load(load_in_hand, people):
    mark_cut(load_in_hand, by=people.operator)
    return load_in_hand


@pytest.fixture
def broken_out_load(cut_load, people):
    break_out(cut_load, by=people.operator)
    return cut_load


@pytest.fixture
def states():
    """The states of a load's pieces by number, as the database has them."""
    return lambda load: dict(load.workpieces.order_by("number").values_list("number", "state"))
