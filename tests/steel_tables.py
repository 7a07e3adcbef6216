"""Printed section tables, as (size x wall in mm, kg/m, cm²) in the digits they are printed in, each with its source."""

from nesting.model.section import Section

STEEL_KG_M3 = 7850.0
"""Source: EN 10219-2, annex on sectional properties; general notes on section dimensions of a steel design handbook."""

# Source: printed table of BS EN 10219:1997, square cold formed sections
COLD_FORMED_SQUARE = """
20x20x2 1.05 1.34
25x25x3 1.89 2.41
30x30x2 1.68 2.14
40x40x3 3.30 4.21
40x40x4 4.20 5.35
50x50x3 4.25 5.41
50x50x5 6.56 8.36
60x60x3 5.19 6.61
60x60x4 6.71 8.55
60x60x6 9.45 12.0
60x60x6.3 9.55 12.2
"""

# Source: reference page of rectangular hollow sections to EN 10219:2006
COLD_FORMED_RECTANGULAR = """
40x20x2 1.68 2.14
40x20x3 2.36 3.01
40x30x2.5 2.42 3.09
50x30x3 3.30 4.21
50x30x4 4.20 5.35
60x40x3 4.25 5.41
60x40x4 5.45 6.95
"""

# Source: cold formed tables in the PyPI package steelsnakes 0.0.1a11
COLD_FORMED_LARGE = """
80x80x5 11.3 14.4
100x100x5 14.4 18.4
100x100x8 21.4 27.2
150x150x10 41.3 52.6
200x200x12.5 68.3 87.0
80x40x4 6.71 8.55
100x50x4 8.59 10.9
120x60x5 12.8 16.4
150x100x8 27.7 35.2
200x100x10 41.3 52.6
"""

# Source: the same package, round cold formed sections
COLD_FORMED_ROUND = """
33.7x3 2.27 2.89
42.4x3 2.91 3.71
48.3x3 3.35 4.27
60.3x3 4.24 5.40
76.1x3 5.41 6.89
88.9x4 8.38 10.7
114.3x5 13.5 17.2
168.3x6.3 25.2 32.1
"""

# Source: printed table of EN 10210-2, square hot finished sections
HOT_FINISHED_SQUARE = """
40x40x2.6 3.00 3.82
40x40x5 5.28 6.73
50x50x3.2 4.62 5.88
50x50x4 5.64 7.19
50x50x6.3 8.31 10.6
60x60x3.2 5.62 7.16
60x60x5 8.42 10.7
60x60x8 12.5 16.0
70x70x4 8.15 10.4
80x80x5 11.6 14.7
80x80x8 17.5 22.4
90x90x4 10.7 13.6
"""


def rows(table: str) -> list[tuple[str, str, str]]:
    """The rows of a printed table."""
    return [tuple(line.split()) for line in table.splitlines() if line]


def cold_formed_radius(wall: float) -> float:
    """Source: EN 10219-2, annex on sectional properties: ro = 2.0 T up to 6 mm, 2.5 T up to 10 mm, 3.0 T above."""
    return wall * (2.0 if wall <= 6 else 2.5 if wall <= 10 else 3.0)


def cold_formed(size: str) -> Section:
    height, width, wall = (float(number) for number in size.split("x"))
    return Section.box(height, width, wall, cold_formed_radius(wall))


def hot_finished(size: str) -> Section:
    """Source: EN 10210-2, annex on sectional properties: ro = 1.5 T, ri = 1.0 T."""
    height, width, wall = (float(number) for number in size.split("x"))
    return Section.box(height, width, wall, 1.5 * wall, 1.0 * wall)


def round_tube(size: str) -> Section:
    diameter, wall = (float(number) for number in size.split("x"))
    return Section.round(diameter, wall)


COLD_FORMED = [
    (cold_formed(size), mass, area)
    for size, mass, area in rows(COLD_FORMED_SQUARE + COLD_FORMED_RECTANGULAR + COLD_FORMED_LARGE)
]
ROUND = [(round_tube(size), mass, area) for size, mass, area in rows(COLD_FORMED_ROUND)]
HOT_FINISHED = [(hot_finished(size), mass, area) for size, mass, area in rows(HOT_FINISHED_SQUARE)]
ALL_ROWS = COLD_FORMED + ROUND + HOT_FINISHED


def is_as_printed(value: float, printed: str) -> bool:
    """Whether a value rounds to the printed figure: half a unit of its last place either way."""
    return abs(value - float(printed)) <= 0.5 * 10.0 ** -len(printed.partition(".")[2]) + 1e-9
