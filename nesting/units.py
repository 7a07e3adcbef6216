"""Names of the units in annotations, and every tolerance with the reason for its size.

Inside `nesting` the annotation carries the unit (`gap: Mm`), so no name needs a suffix. A tolerance that two steps must
agree on stands here and nowhere else.
"""

type Mm = float
type Deg = float
type Seconds = float
type Kg = float
type Mm2 = float
type Point = tuple[float, float]

MM_PER_INCH = 25.4
"""Exact by definition (international inch, 1959); conversion tables in libraries are off by 1e-13."""

SAME_POINT: Mm = 1e-6
"""Points closer than this are one point: far above float noise at 10 m, far below anything a beam can do."""

JOIN: Mm = 0.01
"""Loose ends up to here are joined and reported. In real files wider joining made more branch points than it mended."""

JOIN_WIDE: Mm = 0.1
"""The widest joining a person may ask for; about half a thin-sheet kerf. Wider would move the cut edge visibly."""

CHORD: Mm = 0.05
"""Greatest distance between an arc and the chords that stand for it in layout: a tenth of a usual part gap's slack."""

PICTURE_CHORD: Mm = 0.1
"""As CHORD, for pictures: under a third of a tablet pixel at 1 m across the screen."""

CHECK_SLACK: Mm = 2e-3
"""How much the checker forgives in gap and margin: solvers work in scaled floats, machines repeat to about 30 um."""

TINY_FEATURE: Mm = 0.1
"""A closed ring smaller than this across is narrower than any kerf: it is drawing dirt, and is flagged."""

LARGEST_COORDINATE: Mm = 1e6
"""A kilometre. Beyond it a drawing is damaged or in the wrong unit, and float geometry loses the micrometre."""
