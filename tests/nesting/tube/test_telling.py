from nesting.model.findings import Finding, Severity
from nesting.tube.telling import NAME, listed, told_once


def finding(words, code="wall-thick", severity=Severity.NOTE, at=None):
    return Finding(code, severity, words, at)


def test_one_thing_found_of_several_solids_is_told_once_with_their_names():
    said = [("leg", finding(f"{NAME} is thick.", at=(3.0, 0.0))), ("rail", finding(f"{NAME} is thick."))]
    assert told_once(said) == [finding("leg is thick. The same holds of rail.", at=(3.0, 0.0))]


def test_a_part_that_comes_several_times_is_named_once():
    assert told_once([("leg", finding(f"{NAME} is thick."))] * 8) == [finding("leg is thick.")]


def test_what_differs_in_words_code_or_weight_is_told_apart_in_the_order_it_came():
    said = [
        ("leg", finding(f"{NAME} has 3 mm.")),
        ("rail", finding(f"{NAME} has 4 mm.")),
        ("foot", finding(f"{NAME} has 3 mm.", code="other")),
        ("head", finding(f"{NAME} has 3 mm.", severity=Severity.WARNING)),
    ]
    assert [each.message for each in told_once(said)] == [
        "leg has 3 mm.",
        "rail has 4 mm.",
        "foot has 3 mm.",
        "head has 3 mm.",
    ]


def test_many_names_are_cut_short():
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed(list("abcdefghi")) == "a, b, c, d, e, f and 3 more"
