"""Rectangles laid without waste: jigsaws are put together again, and what cannot be is said to be so."""

import random

import pytest

from nesting.layout.engines.edge_to_edge import Rectangle, edge_to_edge


def never():
    return False


def rectangles_of(pieces, laid):
    for each in laid:
        piece = pieces[each.index]
        width, height = (piece.height, piece.width) if each.turned else (piece.width, piece.height)
        yield each.x, each.y, each.x + width, each.y + height


def look(pieces, laid, length, height):
    """Everything inside, nothing over anything else, every piece as often as wanted."""
    boxes = list(rectangles_of(pieces, laid))
    assert all(0 <= x0 < x1 <= length and 0 <= y0 < y1 <= height for x0, y0, x1, y1 in boxes)
    for i, a in enumerate(boxes):
        assert all(a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1] for b in boxes[:i])
    for index, piece in enumerate(pieces):
        assert sum(each.index == index for each in laid) == piece.count
        assert piece.may_turn or not any(each.turned for each in laid if each.index == index)


def jigsaw(chance, width, height, count):
    found = [(width, height)]
    while len(found) < count:
        found.sort(key=lambda each: each[0] * each[1])
        w, h = found.pop()
        cut = round(chance.uniform(0.3, 0.7) * max(w, h))
        found += [(cut, h), (w - cut, h)] if w >= h else [(w, cut), (w, h - cut)]
    return found


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("may_turn", [True, False])
def test_a_jigsaw_is_put_together_again(seed, may_turn):
    # Source: the pieces were cut from the rectangle, so there is a way.
    pieces = [Rectangle(*size, 1, may_turn) for size in jigsaw(random.Random(seed), 1000, 500, 16)]
    laid = edge_to_edge(pieces, 1000, 500, random.Random(1), never)
    look(pieces, laid, 1000, 500)


def test_a_little_waste_is_taken():
    pieces = [Rectangle(*size) for size in jigsaw(random.Random(7), 1000, 500, 10)]
    laid = edge_to_edge(pieces, 1003, 502, random.Random(1), never)
    look(pieces, laid, 1003, 502)


def test_what_cannot_be_laid_without_waste_is_found_out():
    # Source: by hand: 2 x 2 squares leave one unit of a height of 5, so 5 of them never fill 4 x 5.
    assert edge_to_edge([Rectangle(2, 2, 5)], 4, 5, random.Random(1), never) is None
    # Four of 2 x 3 fill 6 x 4 lying, and 4 x 6 only if they may turn, or stand.
    assert edge_to_edge([Rectangle(2, 3, 4, may_turn=False)], 6, 4, random.Random(1), never) is None
    look([Rectangle(2, 3, 4)], edge_to_edge([Rectangle(2, 3, 4)], 6, 4, random.Random(1), never), 6, 4)


def test_more_than_has_room_is_refused_at_once():
    assert edge_to_edge([Rectangle(2, 2, 6)], 4, 5, random.Random(1), never) is None


def test_it_stops_when_told_to():
    pieces = [Rectangle(*size) for size in jigsaw(random.Random(1), 1000, 500, 40)]
    asked = []

    def is_over():
        asked.append(1)
        return len(asked) > 3

    assert edge_to_edge(pieces, 1000, 500, random.Random(1), is_over) is None
    assert len(asked) <= 6
