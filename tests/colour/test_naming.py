"""Names of colours: words that people use for them, no two alike."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour import colour_name, distinct_names, hex_to_lab

labs = st.tuples(st.floats(0, 100), st.floats(-90, 90), st.floats(-90, 90))


@pytest.mark.parametrize(
    ("hex_colour", "word"),
    # Values of the CSS Color Module's named colours whose names are plain words for what is seen.
    [
        ("#000000", "black"),
        ("#ffffff", "white"),
        ("#808080", "grey"),
        ("#ff0000", "red"),
        ("#ffa500", "orange"),
        ("#ffff00", "yellow"),
        ("#008000", "green"),
        ("#0000ff", "blue"),
        ("#8b4513", "brown"),
        ("#808000", "olive"),
        ("#ffc0cb", "pink"),
        ("#dc143c", "crimson"),
        ("#40e0d0", "turquoise"),
        ("#ee82ee", "violet"),
        ("#708090", "blue grey"),
        ("#8b0000", "deep red"),
        ("#add8e6", "pale blue"),
        ("#e6e6fa", "white"),
    ],
)
def test_well_known_colours(hex_colour: str, word: str) -> None:
    assert word in colour_name(hex_to_lab(hex_colour))


@given(st.lists(labs, max_size=40))
def test_names_are_distinct_and_fit_a_label(palette: list[tuple[float, float, float]]) -> None:
    names = distinct_names(palette)
    assert len(names) == len(palette)
    assert len(set(names)) == len(names)
    assert all(0 < len(name) <= 40 and name == name.strip().lower() for name in names)


@given(labs, st.integers(2, 30))
def test_one_colour_many_times_is_counted(lab: tuple[float, float, float], count: int) -> None:
    names = distinct_names([lab] * count)
    assert len(set(names)) == count
    assert all(name.endswith(colour_name(lab)) for name in names)


def test_pairs_are_compared() -> None:
    assert distinct_names([(24.0, 14.0, 22.0), (30.0, 14.0, 22.0)]) == ("darker brown", "dark brown")
    assert distinct_names([(50.0, 0.0, 0.0), (60.0, 0.0, 0.0)]) == ("darker grey", "lighter grey")
    assert distinct_names([(84.0, 3.0, 30.0), (88.0, 3.0, 30.0)]) == ("pale ochre", "paler ochre")
    assert distinct_names([(10.0, 2.0, -30.0), (17.0, 2.0, -30.0)]) == ("darkest blue", "very dark blue")


def test_many_are_counted_from_light_to_dark() -> None:
    greys = [(50.0, 0.0, 0.0), (58.0, 0.0, 0.0), (54.0, 0.0, 0.0)]
    assert distinct_names(greys) == ("third grey", "first grey", "second grey")
    assert distinct_names([(50.0, 0.0, 0.0)] * 22)[-1] == "22nd grey"


def test_adding_a_colour_elsewhere_does_not_rename() -> None:
    before = distinct_names([(50.0, 0.0, 0.0), (30.0, 14.0, 22.0)])
    assert distinct_names([(50.0, 0.0, 0.0), (30.0, 14.0, 22.0), (70.0, 5.0, 70.0)])[:2] == before
