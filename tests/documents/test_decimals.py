"""Outlines spelled as text, against Python's own spelling of numbers, and pictures' files against Pillow."""

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from blockwright.documents.decimals import PDF, SVG, spell
from blockwright.documents.png import write_png

numbers = st.floats(-1e9, 1e9, allow_nan=False)


def _open(points: list[tuple[float, float]]) -> str:
    return spell(np.array(points), np.array([0, len(points)]), np.array([False]), SVG)


@given(st.lists(st.tuples(numbers, numbers), min_size=2, max_size=20))
def test_numbers_are_the_nearest_thousandths(points: list[tuple[float, float]]) -> None:
    told = _open(points).removeprefix("M").split(" L")
    assert len(told) == len(points)
    for words, point in zip(told, points, strict=True):
        for word, value in zip(words.split(), point, strict=True):
            # A thousand times a double is rounded once more than the double: half a unit more at ties.
            assert (
                abs(Decimal(word) - Decimal(value))
                <= Decimal("0.0005") + abs(Decimal(value)) * Decimal(2) ** -52
            )
            assert "." not in word or not word.endswith(("0", "."))


@given(st.integers(-(10**9), 10**9))
def test_thousandths_are_spelled_as_they_are(thousandths: int) -> None:
    value = Decimal(thousandths) / 1000
    first = _open([(float(value), 0.0), (1.0, 1.0)]).removeprefix("M").split(" ")[0]
    assert Decimal(first) == value
    assert "." not in first or not first.endswith("0")


def test_open_and_closed_outlines_and_what_is_too_short() -> None:
    points = np.array([(0, 0), (1, 0), (0, 0), (5, 5), (6, 6.5), (7, 7), (8, 8), (9, 9)], dtype=np.float64)
    starts, closed = np.array([0, 3, 5, 6, 8]), np.array([True, False, False, True])
    assert spell(points, starts, closed, PDF) == "0 0 m\n1 0 l\nh\n5 5 m\n6 6.5 l\n"


@pytest.mark.parametrize("value", [np.nan, np.inf, 1e12])
def test_a_number_that_no_drawing_has_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        _open([(0.0, 0.0), (value, 0.0)])


def test_a_picture_comes_back_with_its_resolution(tmp_path: Path) -> None:
    picture = np.random.default_rng(1).integers(0, 256, (40, 31, 3), dtype=np.uint8)
    write_png(tmp_path / "a.png", picture, dpi=150)
    write_png(tmp_path / "b.png", picture)
    with Image.open(tmp_path / "a.png") as opened:
        opened.load()
        assert np.array_equal(np.asarray(opened), picture)
        assert opened.info["dpi"] == pytest.approx((150, 150), abs=0.02)
    with Image.open(tmp_path / "b.png") as opened:
        assert np.array_equal(np.asarray(opened.convert("RGB")), picture)
        assert "dpi" not in opened.info
