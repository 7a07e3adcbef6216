"""Polygons with fewer corners, for buffers: a thousand short edges take seconds, and do not matter to where it lies."""

from shapely.geometry import Polygon

from nesting.units import Mm

MOST_CORNERS = 600
"""Buffers of polygons with no more corners take well under a second."""

STEPS: tuple[Mm, ...] = (0.02, 0.1, 0.8, 3.0, 10.0)
"""By how much an outline may move, tried one after the other."""


def fewer_corners(shape: Polygon) -> tuple[Polygon, Mm]:
    """The shape, or one of fewer corners if it has too many, and by how much its edge may have moved.

    Grown by that much, the second encloses the first. Where no step helps it is the hull, which encloses it as it is.
    """
    if _corners(shape) <= MOST_CORNERS:
        return shape, 0.0
    for step in STEPS:
        simpler = shape.simplify(step)
        if (
            isinstance(simpler, Polygon)
            and simpler.is_valid
            and not simpler.is_empty
            and _corners(simpler) <= MOST_CORNERS
        ):
            return simpler, step
    hull = shape.convex_hull
    return (hull if isinstance(hull, Polygon) else shape), 0.0


def _corners(shape: Polygon) -> int:
    return len(shape.exterior.coords) + sum(len(ring.coords) for ring in shape.interiors)
