"""A small shop for the tests of the server: people, one machine for sheet, one for tube, and a quick engine."""

import threading
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest
from django.db import connections

from nesting import route
from shopfloor.base.roles import INSPECTOR, MANAGER, OFFICE, OPERATOR
from shopfloor.floor.release import release
from shopfloor.planning import follow
from shopfloor.planning.demand import key_of
from shopfloor.planning.request import ask_for_nest
from shopfloor.planning.run import run
from tests import rows_by_hand
from tests.factories.accounts import person
from tests.factories.orders import ConfirmedOrderFactory, line_of
from tests.factories.parts import sheet_part, tube_part
from tests.factories.stock import BarFactory, MachineFactory, MaterialFactory, SheetFactory, TubeMachineFactory


@pytest.fixture
def people(db):
    """One person a role, `nobody` without one, and a manager."""
    return SimpleNamespace(
        office=person(OFFICE),
        operator=person(OPERATOR),
        inspector=person(INSPECTOR),
        manager=person(MANAGER),
        nobody=person(),
    )


@pytest.fixture
def quick_engine(monkeypatch):
    """Rows by hand in place of the engines; the check, the pictures and the cut files stay as they are."""
    monkeypatch.setattr(route, "lay_out", rows_by_hand.lay_out)
    # Whoever follows a nest looks at it through a connection of its own, which sees nothing of a test's transaction and
    # would take the nest for gone.
    monkeypatch.setattr(follow, "LOOK_EVERY_S", 3600.0)


class Shop:
    """A shop with one material, a sheet machine and a tube machine, and the verbs of a day in few words."""

    def __init__(self, people):
        self.people = people
        self.material = MaterialFactory(name="S235")
        self.machine = MachineFactory(name="Laser")
        self.tube_machine = TubeMachineFactory(name="Tube laser")

    def sheets(self, on_hand=1, **fields):
        return SheetFactory(material=self.material, on_hand=on_hand, **fields)

    def bars(self, on_hand=1, **fields):
        return BarFactory(material=self.material, on_hand=on_hand, **fields)

    def line(self, quantity=1, part=None, order=None, **fields):
        """A confirmed line of plates of 100 x 60 x 2, in an order of its own unless one is given."""
        order = order or ConfirmedOrderFactory()
        return line_of(order, part or sheet_part(), quantity, self.material, **fields)

    def tube_line(self, quantity=1, length=1000.0, mitre=None, **fields):
        """Rails of square tube, of known length alone or with both ends mitred by so many degrees."""
        return self.line(quantity, tube_part(length=length, mitre=mitre), **fields)

    def ask(self, line, **fields):
        line.refresh_from_db()
        return ask_for_nest(key_of(line), by=self.people.office, **fields)

    def ready_nest(self, line, **fields):
        """Asks for a nest of the line's group and lays it out at once."""
        nest = self.ask(line, **fields)
        run(nest.pk)
        nest.refresh_from_db()
        assert nest.state == "ready", nest.failure
        return nest

    def loads(self, line, **fields):
        """The loads of a new nest of the line's group, waiting at the machine."""
        return release(self.ready_nest(line, **fields), by=self.people.office)


@pytest.fixture
def shop(people, quick_engine):
    return Shop(people)


@pytest.fixture
def at_once(transactional_db):
    """`at_once(8, work)` calls `work(0)` to `work(7)` in threads that start together, each with its own connection to
    the database, and gives their answers in order. What one raises is raised.
    """

    def run_together(count, work):
        gate = threading.Barrier(count)

        def one(number):
            try:
                gate.wait(30)
                return work(number)
            finally:
                connections.close_all()

        with ThreadPoolExecutor(count) as pool:
            return [future.result(120) for future in [pool.submit(one, n) for n in range(count)]]

    return run_together
