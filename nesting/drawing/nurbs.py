"""Points and tangents of a spline curve (NURBS) at many parameters at once.

Source: the algorithm of de Boor, on homogeneous control points for weighted curves.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.errors import BadValue

type Floats = NDArray[np.float64]


@dataclass(frozen=True)
class SplineCurve:
    """A B-spline in the plane: `controls` (n, 2), `knots` (n + degree + 1,) that never fall, `weights` (n,) above 0.

    Raises:
        BadValue: counts or values that do not make a curve.
    """

    degree: int
    controls: Floats
    knots: Floats
    weights: Floats

    def __post_init__(self) -> None:
        count = len(self.controls)
        if not 1 <= self.degree < max(count, 2) or count <= self.degree:
            raise BadValue(f"SplineCurve: {count} control points do not make a curve of degree {self.degree}.")
        if len(self.knots) != count + self.degree + 1 or len(self.weights) != count:
            raise BadValue("SplineCurve: the counts of knots and weights do not go with the control points.")
        whole = np.isfinite(self.controls).all() and np.isfinite(self.knots).all() and np.isfinite(self.weights).all()
        if not whole or (np.diff(self.knots) < 0).any() or (self.weights <= 0).any():
            raise BadValue("SplineCurve: a control point, knot or weight is out of order.")
        if self.last <= self.first:
            raise BadValue("SplineCurve: the knots span no range.")

    @property
    def first(self) -> float:
        """The parameter where the curve begins."""
        return float(self.knots[self.degree])

    @property
    def last(self) -> float:
        return float(self.knots[len(self.controls)])

    def breaks(self) -> tuple[list[float], list[float]]:
        """All distinct knots from first to last, and those of them where the curve may have a corner."""
        inside = self.knots[self.degree : len(self.controls) + 1]
        distinct, counts = np.unique(inside, return_counts=True)
        corners = (counts >= self.degree) | (distinct == self.first) | (distinct == self.last)
        return [float(t) for t in distinct], [float(t) for t in distinct[corners]]

    def points(self, at: Floats) -> tuple[Floats, Floats]:
        """Points and derivatives, each (k, 2), at the parameters `at` (k,)."""
        p, count = self.degree, len(self.controls)
        # At a knot the piece to its right is taken, at the very end the last piece that is not empty.
        last_piece = int(np.searchsorted(self.knots, self.last, side="left")) - 1
        piece = np.clip(np.searchsorted(self.knots, at, side="right") - 1, p, min(last_piece, count - 1))
        weighted = np.column_stack([self.controls * self.weights[:, None], self.weights])
        row = weighted[piece[:, None] - p + np.arange(p + 1)]
        slope = np.zeros((len(at), 3))
        for level in range(1, p + 1):
            low = self.knots[piece[:, None] - p + np.arange(level, p + 1)]
            high = self.knots[piece[:, None] + 1 + np.arange(0, p + 1 - level)]
            width = np.where(high > low, high - low, 1.0)
            if level == p:
                slope = (row[:, 1] - row[:, 0]) * (p / width)
            share = np.where(high > low, (at[:, None] - low) / width, 0.0)[:, :, None]
            row = row[:, :-1] * (1.0 - share) + row[:, 1:] * share
        value, weight = row[:, 0, :2], row[:, 0, 2:]
        point = value / weight
        return point, (slope[:, :2] - point * slope[:, 2:]) / weight
