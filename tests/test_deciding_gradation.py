"""A gradation that is decided: set, set again, made flat, in the text of ``print.toml``."""

import pytest

from blockwright.deciding import AddGradation, TakeBack, change
from blockwright.deciding.acts import SetGradationWay
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


def test_how_it_is_printed_is_said_in_the_entry_and_taken_back() -> None:
    text = change(change(TEXT, DOWN), SetGradationWay(AT, "over a flat"))
    (edit,) = parse(text).design.gradation
    assert (edit.printed, edit.end) == ("over a flat", (120.0, 62.0))
    assert change(text, SetGradationWay(AT, "over a flat")) == text
    # Other ends leave it as it is.
    (edit,) = parse(change(text, AddGradation(AT, (1.0, 2.0), (3.0, 4.0)))).design.gradation
    assert edit.printed == "over a flat"
    (edit,) = parse(change(text, SetGradationWay(AT, None))).design.gradation
    assert (edit.printed, edit.end) == (None, (120.0, 62.0))
    alone = change(TEXT, SetGradationWay(AT, "futa-iro"))
    assert parse(change(alone, SetGradationWay(AT, None))).design.gradation == ()


def test_what_another_place_of_the_same_colour_asks_is_taken_back_too() -> None:
    text = change(change(TEXT, SetGradationWay((10.0, 10.0), "one ink")), SetGradationWay(AT, None))
    assert [edit.printed for edit in parse(text).design.gradation] == ["one ink", "as fits"]


def test_flat_and_a_way_to_print_it_are_refused_in_words() -> None:
    with pytest.raises(SettingsError, match="flat = true and nothing else"):
        change(change(TEXT, AddGradation(AT)), SetGradationWay(AT, "one ink"))
    assert SetGradationWay(AT, "futa-iro").told() == "print the gradation at 120.5, 40 as futa-iro"
