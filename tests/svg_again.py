"""Reads pictures back with means of their own: an XML parser, and SVG's rules for path data."""

import math
import re
from xml.etree import ElementTree as ET

SVG = "{http://www.w3.org/2000/svg}"


class Drawn:
    """A parsed picture."""

    def __init__(self, source):
        self.source = source
        self.root = ET.fromstring(source)  # noqa: S314 - our own picture

    def all(self, tag, css=None):
        found = self.root.iter(SVG + tag)
        return [each for each in found if css is None or css in each.get("class", "").split()]

    def words(self):
        return [each.text for each in self.all("text")]

    @property
    def box(self):
        return [float(value) for value in self.root.get("viewBox").split()]


def arc_samples(start, end, radius, large, sweep):
    """Points along an SVG arc, 33 of them.

    Source: W3C, Scalable Vector Graphics (SVG) 1.1, appendix F.6.5, for rx = ry and no rotation.
    """
    (x1, y1), (x2, y2) = start, end
    if start == end:  # Source: F.6.2, identical end points omit the arc
        return [start, end]
    half_x, half_y = (x1 - x2) / 2, (y1 - y2) / 2
    radius = max(radius, math.hypot(half_x, half_y))
    root = math.sqrt(max(0.0, radius**2 / (half_x**2 + half_y**2) - 1.0))
    root = -root if large == sweep else root
    cx, cy = root * half_y + (x1 + x2) / 2, -root * half_x + (y1 + y2) / 2
    first = math.atan2(y1 - cy, x1 - cx)
    turn = math.atan2(y2 - cy, x2 - cx) - first
    if sweep and turn < 0:
        turn += 2 * math.pi
    if not sweep and turn > 0:
        turn -= 2 * math.pi
    return [
        (cx + radius * math.cos(first + turn * k / 32), cy + radius * math.sin(first + turn * k / 32))
        for k in range(33)
    ]


def runs_of(data):
    """The runs of a path element that uses M, L, A and Z, as points with y upwards."""
    runs = []
    for letter, values in re.findall(r"([MLAZ])([^MLAZ]*)", data):
        numbers = [float(value) for value in values.split()]
        if letter == "M":
            runs.append([(numbers[0], numbers[1])])
        elif letter == "L":
            runs[-1].append((numbers[0], numbers[1]))
        elif letter == "A":
            rx, _, _, large, sweep, x, y = numbers
            runs[-1] += arc_samples(runs[-1][-1], (x, y), rx, bool(large), bool(sweep))[1:]
        else:
            runs[-1].append(runs[-1][0])
    return [[(x, -y) for x, y in run] for run in runs]
