"""The choice for one sheet: never more than there is or than the sheet takes, and a share of everything."""

import random
from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from nesting.layout.choose_parts import choose, choose_more

names = st.sampled_from("abcdefgh")
counts = st.dictionaries(names, st.integers(0, 40), max_size=8)
sizes = st.lists(st.floats(1.0, 1e5), min_size=8, max_size=8)


def total(chosen, bulk):
    return sum(bulk[name] * count for name, count in chosen.items())


@given(counts=counts, sizes=sizes, target=st.floats(0.0, 1e6), seed=st.integers(0, 999), copies=st.integers(1, 5))
def test_no_more_than_the_target_and_than_there_is(counts, sizes, target, seed, copies):
    bulk = dict(zip("abcdefgh", sizes, strict=True))
    chosen = choose(counts, bulk, target, random.Random(seed), copies)
    assert total(chosen, bulk) <= target * (1.0 + 1e-9)
    assert all(0 < each * copies <= counts[name] for name, each in chosen.items())


def test_where_all_goes_on_one_sheet_all_is_chosen():
    counts, bulk = {"a": 3, "b": 7}, {"a": 100.0, "b": 10.0}
    assert choose(counts, bulk, 400.0, random.Random(1)) == Counter(counts)


def test_each_sheet_gets_its_share_of_large_and_of_small():
    counts, bulk = {"large": 10, "small": 100}, {"large": 1000.0, "small": 10.0}
    for seed in range(5):
        chosen = choose(counts, bulk, 5500.0, random.Random(seed))
        assert 4 <= chosen["large"] <= 5
        assert chosen["small"] >= 45


def test_the_same_seed_chooses_the_same():
    counts, bulk = dict.fromkeys("abcd", 9), {"a": 13.0, "b": 29.0, "c": 31.0, "d": 7.0}
    assert choose(counts, bulk, 333.0, random.Random(5)) == choose(counts, bulk, 333.0, random.Random(5))


@given(counts=counts, sizes=sizes, target=st.floats(0.0, 1e6), seed=st.integers(0, 999), copies=st.integers(1, 5))
def test_something_more_is_always_chosen_where_there_is_any(counts, sizes, target, seed, copies):
    bulk = dict(zip("abcdefgh", sizes, strict=True))
    chosen = choose_more(counts, bulk, target, random.Random(seed), copies)
    assert all(0 < each * copies <= counts[name] for name, each in chosen.items())
    there = [bulk[name] for name, count in counts.items() if count >= copies]
    assert bool(chosen) == bool(there)
    # A single part may be larger than the room that is hoped for; it is then the smallest there is.
    assert total(chosen, bulk) <= target * (1.0 + 1e-9) or total(chosen, bulk) == min(there)
