"""Materials, sections, machines, sheets and bars."""

from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from shopfloor.stock.models import CuttingRule, Kind, Machine, Material, StockItem, TubeSection


class MaterialFactory(DjangoModelFactory):
    class Meta:
        model = Material

    name = factory.Sequence(lambda n: f"S{n}")


class TubeSectionFactory(DjangoModelFactory):
    """Square tube of 40 x 40 x 3."""

    class Meta:
        model = TubeSection
        django_get_or_create = ("shape", "height_mm", "width_mm", "wall_mm", "corner_radius_mm")

    shape = "square"
    height_mm = Decimal(40)
    width_mm = Decimal(40)
    wall_mm = Decimal(3)
    corner_radius_mm = Decimal(6)


class CuttingRuleFactory(DjangoModelFactory):
    class Meta:
        model = CuttingRule

    material = factory.SubFactory(MaterialFactory)


class MachineFactory(DjangoModelFactory):
    """A machine with a table of 3000 x 1500 and no chuck."""

    class Meta:
        model = Machine

    name = factory.Sequence(lambda n: f"Machine {n:03d}")
    table_length_mm = 3000
    table_width_mm = 1500


class TubeMachineFactory(MachineFactory):
    table_length_mm = None
    table_width_mm = None
    longest_bar_mm = 6500
    chuck_dead_mm = 200


class SheetFactory(DjangoModelFactory):
    """One sheet of 1000 x 500 x 2."""

    class Meta:
        model = StockItem

    kind = Kind.SHEET
    material = factory.SubFactory(MaterialFactory)
    thickness_mm = Decimal(2)
    length_mm = Decimal(1000)
    width_mm = Decimal(500)


class BarFactory(DjangoModelFactory):
    """One bar of 6000."""

    class Meta:
        model = StockItem

    kind = Kind.TUBE
    material = factory.SubFactory(MaterialFactory)
    section = factory.SubFactory(TubeSectionFactory)
    length_mm = Decimal(6000)
