"""Parts such as the shop cuts, with true arcs, and jobs of them: for the tests of layout and verification."""

import math

from nesting.geometry.contour import Contour
from nesting.model.nest import BarJob, BarRules, Demand, SheetJob, SheetRules
from nesting.model.part import SheetPart, TubePart
from nesting.model.section import Section
from nesting.model.stock import Bar, Sheet

QUARTER = math.tan(math.pi / 8.0)
"""The bulge of a quarter circle."""


def square(name, side, *, x=0.0, y=0.0):
    return rectangle(name, side, side, x=x, y=y)


def rectangle(name, width, height, *, x=0.0, y=0.0):
    return SheetPart(name, Contour.rectangle(width, height, x, y))


def rounded(width, height, radius, x=0.0, y=0.0):
    """A rectangle with round corners."""
    right, top, r, q = x + width, y + height, radius, QUARTER
    return Contour(
        (
            *((x + r, y, 0.0), (right - r, y, q), (right, y + r, 0.0), (right, top - r, q)),
            *((right - r, top, 0.0), (x + r, top, q), (x, top - r, 0.0), (x, y + r, q)),
        )
    )


def plate(name, width, height, radius=8.0, bolt=11.0, inset=15.0):
    """A plate with round corners and four bolt holes."""
    places = [(x, y) for x in (inset, width - inset) for y in (inset, height - inset)]
    return SheetPart(name, rounded(width, height, radius), tuple(Contour.circle(x, y, bolt / 2.0) for x, y in places))


def flange(name, diameter, bore, bolts=6, bolt=11.0):
    """A ring with a bore and bolt holes half way between."""
    circle = (diameter + bore) / 4.0
    angles = [2.0 * math.pi * k / bolts for k in range(bolts)]
    holes = [Contour.circle(circle * math.cos(a), circle * math.sin(a), bolt / 2.0) for a in angles]
    return SheetPart(name, Contour.circle(0.0, 0.0, diameter / 2.0), (Contour.circle(0.0, 0.0, bore / 2.0), *holes))


def gusset(name, width, height, nose=20.0):
    corners = [(0.0, 0.0), (width, 0.0), (width, nose), (nose, height), (0.0, height)]
    return SheetPart(name, Contour(tuple((x, y, 0.0) for x, y in corners)))


def angle(name, width, height, leg, fillet=12.0):
    """An L with a fillet in its inner corner."""
    inner = ((leg + fillet, leg, -QUARTER), (leg, leg + fillet, 0.0))
    ring = ((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, leg, 0.0), *inner, (leg, height, 0.0), (0.0, height, 0.0))
    return SheetPart(name, Contour(ring))


def link(name, length, diameter):
    """A bar with round ends, a pin hole in each."""
    r = diameter / 2.0
    ring = ((0.0, -r, 0.0), (length, -r, 1.0), (length, r, 0.0), (0.0, r, 1.0))
    return SheetPart(name, Contour(ring), (Contour.circle(0.0, 0.0, r / 2.5), Contour.circle(length, 0.0, r / 2.5)))


def frame(name, width, height, rail):
    """A window: a plate with one large rectangular hole."""
    hole = Contour.rectangle(width - 2.0 * rail, height - 2.0 * rail, rail, rail)
    return SheetPart(name, Contour.rectangle(width, height), (hole,))


def triangle(name, width, height):
    return SheetPart(name, Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (0.0, height, 0.0))))


L_REMNANT = Contour(((0, 0, 0), (900, 0, 0), (900, 400, 0), (300, 400, 0), (300, 800, 0), (0, 800, 0)))
"""What is left of a 900 x 800 mm sheet once 600 x 400 mm has been cut out of its corner."""


def sheet_job(*demands, stock=None, gap=5.0, margin=10.0, turns=(0.0, 90.0, 180.0, 270.0), mirror=False):
    """A job of (part, count) pairs; by default on as many sheets of 1000 x 500 mm as needed."""
    sheets = (Sheet.rectangle("1000x500", 1000.0, 500.0),) if stock is None else tuple(stock)
    rows = tuple(Demand(part, count) for part, count in demands)
    return SheetJob(sheets, SheetRules(gap, margin, turns, mirror), rows)


def two_hundred_parts():
    """200 parts of 10 kinds on 2500 x 1250 mm: an ordinary day."""
    return sheet_job(
        (plate("base plate", 180.0, 120.0), 24),
        (flange("flange", 160.0, 88.9), 18),
        (gusset("gusset", 180.0, 180.0), 30),
        (angle("bracket", 210.0, 160.0, 50.0), 20),
        (link("link", 240.0, 40.0), 26),
        (frame("window", 420.0, 320.0, 45.0), 8),
        (angle("stop", 150.0, 220.0, 40.0), 16),
        (triangle("corner", 140.0, 140.0), 28),
        (plate("cover", 320.0, 210.0, 20.0), 10),
        (flange("washer", 60.0, 22.0, bolts=0), 20),
        stock=[Sheet.rectangle("2500x1250", 2500.0, 1250.0)],
    )


TUBE = Section.box(50.0, 50.0, 3.0, 6.0)


def bar_job(*demands, stock=((6000.0, None),), gap=0.0, dead_end=0.0, lead_end=0.0):
    """A job of (length, count) pairs on bars of (length, count) or (length, count, cost)."""
    bars = tuple(Bar(f"bar {i}", *bar) for i, bar in enumerate(stock))
    rows = tuple(Demand(TubePart(f"piece {i}", TUBE, length), count) for i, (length, count) in enumerate(demands))
    return BarJob(bars, BarRules(gap, dead_end, lead_end), rows)
