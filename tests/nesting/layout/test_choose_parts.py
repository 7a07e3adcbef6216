"""The choice for one sheet: never more than there is or than the sheet takes, and a share of everything."""

import random
from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from nesting.layout.choose_parts import choose, choose_instead

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


@given(
    counts=counts,
    there=counts,
    sizes=sizes,
    target=st.floats(0.0, 1e6),
    seed=st.integers(0, 999),
    copies=st.integers(1, 5),
    keep=st.booleans(),
)
def test_what_a_sheet_may_hold_instead_is_at_hand_and_has_no_less_bulk(
    counts, there, sizes, target, seed, copies, keep
):
    bulk = dict(zip("abcdefgh", sizes, strict=True))
    chosen = choose_instead(there, counts, bulk, target, random.Random(seed), copies, keep=keep)
    assert all((each - there.get(name, 0)) * copies <= counts.get(name, 0) for name, each in chosen.items())
    before, after = total(there, bulk), total(chosen, bulk)
    assert before * (1.0 - 1e-9) <= after <= (before + target) * (1.0 + 1e-9)
    if keep:
        assert not Counter(there) - chosen


def test_a_larger_part_stands_in_for_a_smaller_one():
    counts, bulk = {"large": 4, "small": 0}, {"large": 100.0, "small": 90.0}
    assert choose_instead({"small": 2}, counts, bulk, 25.0, random.Random(1), 2) == Counter(large=2)
    assert choose_instead({"small": 2}, counts, bulk, 25.0, random.Random(1), 4) == Counter(large=1, small=1)
    assert choose_instead({"small": 2}, counts, bulk, 25.0, random.Random(1), 2, keep=True) == Counter(small=2)
