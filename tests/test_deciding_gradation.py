"""A gradation that is decided: set, set again, made flat, in the text of ``print.toml``."""

import pytest

from blockwright.deciding import AddGradation, TakeBack, change
from blockwright.decisions import parse
from blockwright.model.errors import SettingsError

TEXT = "[print]\nwidth_mm = 300.0  # as ordered\n\n[design]\nspeck_mm2 = 0.3\n"
AT = (120.5, 40.0)
DOWN = AddGradation(AT, (120.0, 0.0), (120.0, 62.0))


def test_a_gradation_is_written_and_set_again_in_one_entry() -> None:
    once = change(TEXT, DOWN)
    assert "# as ordered" in once
    again = change(once, AddGradation(AT, (120.0, 0.0), (120.0, 50.0)))
    (edit,) = parse(again).design.gradation
    assert (edit.at, edit.start, edit.end, edit.flat) == (AT, (120.0, 0.0), (120.0, 50.0), False)
    assert change(again, AddGradation(AT, (120.0, 0.0), (120.0, 50.0))) == again


def test_ramp_and_colours_stay_when_only_the_ends_move() -> None:
    text = change(TEXT, DOWN).replace("end = [120.0, 62.0]", "end = [120.0, 62.0]\nramp = [0.0, 0.2, 1.0]")
    (edit,) = parse(change(text, AddGradation(AT, (1.0, 2.0), (3.0, 4.0)))).design.gradation
    assert edit.ramp == (0.0, 0.2, 1.0)


def test_flat_leaves_nothing_else_and_can_run_again() -> None:
    flat = change(change(TEXT, DOWN), AddGradation(AT))
    (edit,) = parse(flat).design.gradation
    assert edit.flat
    assert edit.start is None
    (edit,) = parse(change(flat, DOWN)).design.gradation
    assert not edit.flat
    assert edit.end == (120.0, 62.0)
    assert parse(change(flat, TakeBack("design", "gradation", 0))).design.gradation == ()


def test_two_equal_ends_are_refused_in_words() -> None:
    with pytest.raises(SettingsError, match="two different places"):
        change(TEXT, AddGradation(AT, (1.0, 1.0), (1.0, 1.0)))


def test_the_history_says_it() -> None:
    assert DOWN.told() == "let the colour at 120.5, 40 run from 120, 0 to 120, 62"
    assert AddGradation(AT).told() == "make the colour at 120.5, 40 flat"
