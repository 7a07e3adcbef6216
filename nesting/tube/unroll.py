"""Lays the outer surface of a tube or bar flat, and rolls it up again.

A place on the surface has x along the tube and s round it. The map keeps lengths, so a cut is as long flat as it is on
the tube, and lines and circles on flat sides stay what they are.
"""

import numpy as np

from nesting.model.section import Section
from nesting.tube.outline import Numbers
from nesting.tube.ring_outline import RingOutline
from nesting.tube.solid import Points
from nesting.units import Deg, Mm


def outline_of(section: Section) -> RingOutline:
    """The outer outline, round which s runs."""
    return RingOutline(section.outlines[0])


def unrolled(section: Section, points: Points) -> Numbers:
    """Places `(n, 2)` of (x, s) for points `(n, 3)` of (x, y, z) on the surface; s goes on over the start of the
    outline, so that neighbours stay neighbours.
    """
    outline = outline_of(section)
    around = outline.around(points[:, 1:])
    steps = np.diff(around)
    steps -= outline.girth * np.round(steps / outline.girth)
    return np.column_stack([points[:, 0], around[0] + np.concatenate(([0.0], np.cumsum(steps)))])


def rolled(section: Section, places: Numbers) -> Points:
    """Points `(n, 3)` on the surface for places `(n, 2)`."""
    return np.column_stack([places[:, 0], outline_of(section).at(places[:, 1])])


def faces_towards(section: Section, s: Mm) -> Deg:
    """The way the surface faces at s: the angle of its normal out of the metal, from +y towards +z."""
    before, after = outline_of(section).at(np.array([s - 1e-4, s + 1e-4]))
    along = after - before
    return float(np.degrees(np.arctan2(-along[0], along[1])) % 360.0)
