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

# Source: European tables in the PyPI package steelsnakes 0.0.1a11: EN 10056-1 angles, as size, root and toe radius
ROLLED_ANGLES = """
40x40x4x6x3 2.42 3.08
50x50x5x7x3.5 3.77 4.8
60x60x6x8x4 5.42 6.91
70x70x7x9x4.5 7.38 9.4
80x80x8x10x5 9.63 12.3
100x100x10x12x6 15.0 19.2
150x150x12x16x8 27.3 34.8
200x100x10x15x7.5 23.0 29.2
150x90x12x12x6 21.6 27.5
150x100x10x12x6 19.0 24.2
250x90x12x18x9 31.2 39.7
"""

# Source: the same package, EN 10365 I and H: height, width, web, flange, root radius; mass, area, m² of surface a metre
I_AND_H = """
80x46x3.8x5.2x5 6.0 7.6 0.328
100x55x4.1x5.7x7 8.1 10.3 0.400
160x82x5x7.4x9 15.8 20.1 0.623
200x100x5.6x8.5x12 22.4 28.5 0.768
300x150x7.1x10.7x15 42.2 53.8 1.16
96x100x5x8x12 16.7 21.2 0.561
100x100x6x10x12 20.4 26.0 0.567
152x160x6x9x15 30.4 38.8 0.906
200x200x9x15x18 61.3 78.1 1.15
"""

# Source: the same package, EN 10365 channels with parallel flanges, in the same order
CHANNELS = """
80x50x4x7x10 7.9 10.1 0.343
100x55x4.5x7.5x10 9.8 12.5 0.402
120x60x5x8x12 12.1 15.4 0.460
160x70x5.5x9.5x12 17.0 21.7 0.579
200x80x6x11x13 22.8 29.0 0.697
300x100x9.5x15x15 44.4 56.6 0.968
100x50x5x8.5x9 10.2 13.0 0.382
150x75x5.5x10x12 17.9 22.8 0.579
300x90x9x15.5x12 41.4 52.7 0.932
"""


def rows(table: str) -> list[tuple[str, ...]]:
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
PROFILES = [
    (build(*(float(number) for number in size.split("x"))), mass, area, *girth)
    for build, table in (
        (Section.angle, ROLLED_ANGLES), (Section.i_beam, I_AND_H), (Section.channel, CHANNELS)
    )
    for size, mass, area, *girth in rows(table)
]  # fmt: skip
"""Open profiles: section, kg/m, cm², and where it is printed the m² of surface of a metre."""

ALL_ROWS = COLD_FORMED + ROUND + HOT_FINISHED


def is_as_printed(value: float, printed: str) -> bool:
    """Whether a value rounds to the printed figure: half a unit of its last place either way."""
    return abs(value - float(printed)) <= 0.5 * 10.0 ** -len(printed.partition(".")[2]) + 1e-9
