"""Polygons that stand for the metal of placed parts, for the checker alone: mirrored, turned and shifted by shapely.

Every polygon here encloses the true metal: arcs of outer contours are flattened outwards, those of holes inwards. So
two polygons are never further apart than the parts, and the check errs on the strict side by at most the flattening
height of each. *Coarse* polygons have few corners and clear most pairs at once; only what they cannot clear is measured
again with *fine* ones.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.geometry.contour import Contour
from nesting.model.nest import Placement
from nesting.model.part import SheetPart
from nesting.units import CHECK_SLACK, CHORD, Mm

COARSE: Mm = CHORD
"""Flattening height of the coarse polygons, the same as layout uses: what was laid as polygons is cleared at once."""

FINE: Mm = CHECK_SLACK / 4.0
"""Flattening height of the fine polygons: two parts together are then judged strict by half the slack at most."""

type Shapes = npt.NDArray[np.object_]


def outline_polygon(outline: Contour) -> Polygon:
    """The sheet's area, arcs flattened so that the polygon lies within it."""
    return Polygon(outline.anticlockwise().polygon(FINE, "inwards"))


class MetalOfParts:
    """The metal of each part at each place, worked out once for each part, turn and side."""

    def __init__(self, parts: Sequence[SheetPart]) -> None:
        self._parts = {part.name: part for part in parts}
        self._own: dict[tuple[str, Mm], BaseGeometry] = {}
        self._turned: dict[tuple[str, float, bool, Mm], BaseGeometry] = {}

    def fault_of(self, name: str) -> str | None:
        """Why the part's contours enclose no proper piece of metal, or None where they do."""
        metal = self._metal(name, FINE)
        return None if metal.is_valid else str(shapely.is_valid_reason(metal))

    def placed(self, placement: Placement, height: Mm) -> BaseGeometry:
        """The metal of one placement; `height` is how far it may reach beyond the true contour."""
        return affinity.translate(self._turned_metal(placement, height), placement.x, placement.y)

    def all_placed(self, placements: Sequence[Placement], height: Mm) -> Shapes:
        """As `placed`, for many placements at once, in their order."""
        shapes = np.array([self._turned_metal(p, height) for p in placements], dtype=object)
        counts = shapely.get_num_coordinates(shapes)
        shifts = np.array([(p.x, p.y) for p in placements], dtype=float).reshape(-1, 2)
        moved: Shapes = shapely.transform(shapes, lambda corners: corners + np.repeat(shifts, counts, axis=0))
        return moved

    def _turned_metal(self, placement: Placement, height: Mm) -> BaseGeometry:
        key = (placement.part, placement.turn, placement.mirrored, height)
        if key not in self._turned:
            metal = self._metal(placement.part, height)
            if placement.mirrored:
                metal = affinity.scale(metal, -1.0, 1.0, origin=(0.0, 0.0))
            self._turned[key] = affinity.rotate(metal, placement.turn, origin=(0.0, 0.0))
        return self._turned[key]

    def _metal(self, name: str, height: Mm) -> BaseGeometry:
        """The part in its own coordinates. A narrow slot can close when it is flattened coarsely: then it is fine."""
        if (name, height) not in self._own:
            part = self._parts[name]
            metal: BaseGeometry = Polygon(
                part.outer.polygon(height, "outwards"), [hole.polygon(height, "inwards") for hole in part.holes]
            )
            if height > FINE and not metal.is_valid:
                metal = self._metal(name, FINE)
            self._own[name, height] = metal
        return self._own[name, height]
