"""Drawings and the parts read out of them."""

import hashlib
import math
from itertools import pairwise

import factory
from factory.django import DjangoModelFactory

from nesting.geometry.contour import Contour, Path
from nesting.model.part import SheetPart, TubePart
from nesting.model.section import Section
from nesting.model.tube_cuts import EndCut, EndKind
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


def tube(name, length=1000.0, mitre=None):
    """A piece of square tube of 40 x 40 x 3: of known length alone, or with both ends mitred by `mitre` degrees.

    Both long points are at the top, as on the rail of a frame.
    """
    section = Section.box(40, 40, 3, 6)
    if mitre is None:
        return TubePart(name, section, length)
    ends = tuple(mitred_end(section, x, mitre) for x in (0.0, length))
    return TubePart(name, section, length, square_ends=False, ends=ends)


def mitred_end(section, x, angle):
    """The end at x, its long point at the top. Source: height over the lowest fibre times the angle's tangent."""
    rolled = section.outlines[0].flattened(0.01)
    rolled = [*rolled, rolled[0]]
    short = section.height * math.tan(math.radians(angle))
    s, places = 0.0, []
    for (y0, z0), (y1, z1) in pairwise([rolled[0], *rolled]):
        s += math.hypot(y1 - y0, z1 - z0)
        back = short * (0.5 - z1 / section.height)
        places.append((back if x == 0.0 else x - back, s, 0.0))
    # Flattened arcs are a little short of the true girth.
    path = Path(tuple((at, s * section.girth / places[-1][1], 0.0) for at, s, _ in places))
    return EndCut(EndKind.MITRE, path, angle, 90.0)


def part_row(noun, drawing=None, position=1):
    """The part stored as the only one of a drawing of its own, or in the given drawing."""
    drawing = drawing or DrawingFactory(kind="sheet" if isinstance(noun, SheetPart) else "tube")
    return Part.objects.create(drawing=drawing, position=position, **figures(noun))


_count = iter(range(1, 10**9))


def sheet_part(**measures):
    return part_row(plate(f"plate{next(_count)}", **measures))


def tube_part(**measures):
    return part_row(tube(f"rail{next(_count)}", **measures))
