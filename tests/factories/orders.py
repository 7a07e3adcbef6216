"""Customers, orders and their lines."""

from datetime import date, timedelta
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from shopfloor.orders.models import Customer, Order, OrderFile, OrderLine, OrderState
from tests.factories.parts import sheet_part
from tests.factories.stock import MaterialFactory


class CustomerFactory(DjangoModelFactory):
    class Meta:
        model = Customer

    name = factory.Sequence(lambda n: f"Customer {n}")


class OrderFactory(DjangoModelFactory):
    """A draft that is due in two weeks."""

    class Meta:
        model = Order

    customer = factory.SubFactory(CustomerFactory)
    due_on = factory.LazyFunction(lambda: date.today() + timedelta(days=14))


class ConfirmedOrderFactory(OrderFactory):
    state = OrderState.CONFIRMED


class OrderFileFactory(DjangoModelFactory):
    class Meta:
        model = OrderFile

    order = factory.SubFactory(OrderFactory)
    drawing = factory.SubFactory("tests.factories.parts.DrawingFactory")


def line_of(order, part=None, quantity=1, material=None, thickness_mm="2", **fields):
    """A line that lacks nothing, for a new plate unless a part is given."""
    part = part or sheet_part()
    file = OrderFile.objects.get_or_create(order=order, drawing=part.drawing)[0]
    return OrderLine.objects.create(
        order=order,
        file=file,
        part=part,
        quantity=quantity,
        material=material or MaterialFactory(),
        section=part.section,
        thickness_mm=None if part.section_id else Decimal(thickness_mm),
        **fields,
    )
