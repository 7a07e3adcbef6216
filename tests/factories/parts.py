"""Drawings and the parts read out of them."""

import hashlib

import factory
from factory.django import DjangoModelFactory

from nesting.geometry.contour import Contour
from nesting.model.part import SheetPart, TubePart
from nesting.model.section import Section
from shopfloor.parts.models import Drawing, DrawingState, Part
from shopfloor.parts.read import figures


class DrawingFactory(DjangoModelFactory):
    """A drawing that was read and is usable; no file lies behind it."""

    class Meta:
        model = Drawing

    name = factory.Sequence(lambda n: f"bracket{n}.dxf")
    digest = factory.LazyAttribute(lambda o: hashlib.sha256(o.name.encode()).hexdigest())
    size_bytes = 1000
    state = DrawingState.USABLE
    kind = "sheet"
    reading = factory.LazyFunction(lambda: {"kind": "sheet", "unit": "mm", "findings": []})


def plate(name, length=100.0, width=60.0, hole=0.0):
    """A rectangle, with a round hole in its middle if asked for."""
    holes = (Contour.circle(length / 2, width / 2, hole / 2),) if hole else ()
    return SheetPart(name, Contour.rectangle(length, width), holes)


def tube(name, length=1000.0):
    """A piece of square tube of 40 x 40 x 3."""
    return TubePart(name, Section.box(40, 40, 3, 6), length)


def part_row(noun, drawing=None, position=1):
    """The part stored as the only one of a drawing of its own, or in the given drawing."""
    drawing = drawing or DrawingFactory(kind="sheet" if isinstance(noun, SheetPart) else "tube")
    return Part.objects.create(drawing=drawing, position=position, **figures(noun))


_count = iter(range(1, 10**9))


def sheet_part(**measures):
    return part_row(plate(f"plate{next(_count)}", **measures))


def tube_part(**measures):
    return part_row(tube(f"rail{next(_count)}", **measures))
