"""Feeds and speeds: the handbook's formula, rows of the chart by hand, and what a machine cannot do."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.blocks.woods import known_woods
from blockwright.cutting.feeds import (
    WoodClass,
    _step_rows,
    _wood_names,
    chip_load_mm,
    cutting_diameter_mm,
    speeds_for,
    steps_for,
    wood_class_of,
)
from blockwright.ledger.router_first import first_bits, first_machines
from blockwright.model.router import Bit
from blockwright.model.settings_router import RouterTable

SIX, THREE, THIN, V60 = (each.bit for each in first_bits())
PLAIN = first_machines()[0].machine
FAST = replace(PLAIN, name="fast", feed_mm_min=50_000.0, plunge_mm_min=50_000.0)
USUAL = RouterTable()
CLASSES: tuple[WoodClass, ...] = ("hardwood", "softwood", "MDF")


# ---- Chip loads -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("diameter_mm", "wood_class", "depth_mm", "least", "most"),
    [
        # The chart's own rows.
        (3.2, "hardwood", 3.2, 0.05, 0.10),
        (3.2, "softwood", 1.0, 0.08, 0.13),
        (3.2, "MDF", 3.2, 0.10, 0.18),
        (6.35, "hardwood", 6.35, 0.13, 0.18),
        (6.35, "softwood", 6.35, 0.15, 0.20),
        (6.35, "MDF", 6.35, 0.15, 0.23),
        # The chart: a quarter less at two diameters, half at three.
        (6.35, "softwood", 12.7, 0.1125, 0.15),
        (6.35, "softwood", 19.05, 0.075, 0.10),
        (6.35, "softwood", 60.0, 0.075, 0.10),
        # By hand, half way between: at one and a half diameters an eighth less.
        (6.35, "softwood", 9.525, 0.13125, 0.175),
        # By hand: 4.775 is half way from 3.2 to 6.35.
        (4.775, "hardwood", 2.0, 0.09, 0.14),
        # Half of the thinnest bit of the chart takes half, thicker than its thickest no more.
        (1.6, "hardwood", 1.6, 0.025, 0.05),
        (12.0, "hardwood", 6.0, 0.13, 0.18),
    ],
)
def test_chip_loads_are_those_of_the_chart_and_between_its_rows(
    diameter_mm: float, wood_class: WoodClass, depth_mm: float, least: float, most: float
) -> None:
    """A tool maker's speeds-and-feeds chart, in mm."""
    found = chip_load_mm(diameter_mm, wood_class, depth_mm=depth_mm)
    assert found == pytest.approx((least, most))


@given(
    st.floats(0.2, 20.0), st.floats(0.2, 20.0), st.sampled_from(CLASSES), st.floats(0.1, 5.0), st.booleans()
)
def test_a_thicker_bit_takes_no_thinner_a_chip_and_a_deeper_pass_no_thicker_one(
    one_mm: float, other_mm: float, wood_class: WoodClass, diameters: float, most: bool
) -> None:
    thin, thick = sorted((one_mm, other_mm))
    chips = [chip_load_mm(each, wood_class, depth_mm=diameters * each)[most] for each in (thin, thick)]
    assert 0.0 < chips[0] <= chips[1] + 1e-12
    deeper = chip_load_mm(thin, wood_class, depth_mm=2.0 * diameters * thin)[most]
    assert deeper <= chips[0] + 1e-12


def test_a_slender_tip_counts_as_what_it_is() -> None:
    """By hand: at 60 degrees a V is 2 d tan 30 wider than its tip."""
    assert cutting_diameter_mm(V60, 1.0) == pytest.approx(0.1 + 2.0 * 0.57735027)
    assert cutting_diameter_mm(V60, 50.0) == V60.diameter_mm
    assert cutting_diameter_mm(SIX, 0.1) == 6.0
    tapered = Bit(9, "tapered", "tapered", 3.175, 2, 15.0, angle_deg=10.0, tip_mm=0.5)
    assert cutting_diameter_mm(tapered, 0.01) == 0.5
    # Where the cone is as thick as told, the bit's own edge is as high as the pass is deep.
    for depth_mm in (1.0, 4.0, 12.0):
        thick_mm = cutting_diameter_mm(tapered, depth_mm)
        assert tapered.rise_mm(thick_mm / 2.0) == pytest.approx(depth_mm)


# ---- Speeds -----------------------------------------------------------------------------------------------


def test_the_feed_is_that_of_the_handbook() -> None:
    """Machinery's Handbook: feed = turns x teeth x chip load. By hand for 3 mm, softwood: the chart's row at
    3.2 mm has a middle of 0.105, 3 mm takes 3 / 3.2 of it, 0.0984375; 18000 x 2 x that is 3543.75.
    """
    found = speeds_for(THREE, "softwood", FAST, 2.0, USUAL)
    assert (found.rpm, found.feed_mm_min) == (18000.0, 3543.0)
    assert found.chip_mm == pytest.approx(3543.0 / 36000.0)
    assert found.plunge_mm_min == pytest.approx(3543.0 / 2.0)
    assert (found.clamped, found.rubs) == (None, False)


def test_where_the_feed_is_clamped_the_spindle_slows_and_the_chip_stays() -> None:
    """By hand for 6 mm, softwood: 0.105 + 0.07 x 2.8 / 3.15 = 0.1672222; 3000 / (2 x that) = 8970.1 turns."""
    found = speeds_for(SIX, "softwood", PLAIN, 4.5, USUAL)
    assert (found.rpm, found.feed_mm_min, found.plunge_mm_min) == (8971.0, 3000.0, 600.0)
    assert found.chip_mm == pytest.approx(0.1672222, rel=2e-4)
    assert not found.rubs
    assert found.clamped == (
        "6 mm flat could be fed 6020 mm a minute, plain table router does 3000 at most; the spindle turns "
        "8971 times a minute, so that each tooth still takes 0.17 mm."
    )


def test_a_spindle_that_cannot_turn_so_slowly_is_told_when_the_bit_rubs() -> None:
    stiff = replace(PLAIN, rpm=(20000.0, 24000.0), feed_mm_min=1000.0)
    found = speeds_for(SIX, "MDF", stiff, 3.0, USUAL)
    assert (found.rpm, found.feed_mm_min) == (20000.0, 1000.0)
    assert found.chip_mm == pytest.approx(0.025)
    assert found.rubs
    assert found.clamped is not None
    # By hand: the least at 6 mm is 0.10 + 0.05 x 2.8 / 3.15 = 0.1444.
    assert "each tooth takes 0.025 mm, less than the 0.144 mm below which a bit rubs" in found.clamped


@pytest.mark.parametrize(("asked", "rpm"), [(3000.0, 8000.0), (60000.0, 24000.0), (12000.0, 12000.0)])
def test_the_spindle_stays_in_its_range(asked: float, rpm: float) -> None:
    found = speeds_for(THIN, "hardwood", FAST, 1.0, RouterTable(spindle_rpm=asked))
    assert found.rpm == rpm
    assert found.clamped is None


@given(
    bit=st.sampled_from((SIX, THREE, THIN, V60)),
    wood_class=st.sampled_from(CLASSES),
    feed=st.floats(0.5, 20000.0),
    slowest=st.integers(1000, 20000),
    depth_mm=st.floats(0.05, 15.0),
)
def test_no_machine_is_asked_for_what_it_cannot_do_and_no_tooth_for_more_than_the_most(
    bit: Bit, wood_class: WoodClass, feed: float, slowest: int, depth_mm: float
) -> None:
    machine = replace(PLAIN, feed_mm_min=feed, rpm=(float(slowest), 24000.0))
    found = speeds_for(bit, wood_class, machine, depth_mm, USUAL)
    thick_mm = cutting_diameter_mm(bit, depth_mm)
    least, most = chip_load_mm(thick_mm, wood_class, depth_mm=depth_mm)
    assert 0.0 < found.feed_mm_min <= feed
    assert 0.0 < found.plunge_mm_min <= min(machine.plunge_mm_min, found.feed_mm_min)
    assert slowest <= found.rpm <= 24000.0
    assert found.chip_mm == pytest.approx(found.feed_mm_min / (found.rpm * bit.flutes))
    assert found.chip_mm <= (least + most) / 2.0 * (1.0 + 1e-9)
    assert found.rubs == (found.chip_mm < least * (1.0 - 1e-9))
    assert found.rubs <= (found.clamped is not None)


@pytest.mark.parametrize("depth_mm", [0.0, -1.0, float("nan")])
def test_a_pass_without_depth_has_no_speed(depth_mm: float) -> None:
    with pytest.raises(ValueError, match="deeper than 0"):
        speeds_for(SIX, "MDF", PLAIN, depth_mm, USUAL)


# ---- Steps and woods --------------------------------------------------------------------------------------


def test_there_are_steps_for_every_bit_and_wood() -> None:
    kinds = ("flat", "ball", "V", "tapered")
    assert set(_step_rows()) == {(kind, wood) for kind in kinds for wood in CLASSES}


def test_steps_are_parts_of_the_diameter_and_the_settings_hold() -> None:
    usual = steps_for(SIX, "hardwood", USUAL)
    assert (usual.down_mm, usual.over_mm) == pytest.approx((3.0, 2.4))
    own = RouterTable(step_down_diameters=0.25, flat_step_over_percent=30.0)
    asked = steps_for(SIX, "hardwood", own)
    assert (asked.down_mm, asked.over_mm) == pytest.approx((1.5, 1.8))
    assert steps_for(V60, "hardwood", own).over_mm == pytest.approx(0.08 * 6.0), "that is of flat bits"
    tapered = Bit(9, "tapered", "tapered", 3.175, 2, 15.0, angle_deg=10.0, tip_mm=0.5)
    assert steps_for(tapered, "MDF", USUAL).down_mm == 0.5
    short = replace(SIX, cutting_mm=2.0)
    assert steps_for(short, "hardwood", USUAL).down_mm == 2.0, "never deeper than its edges are long"


def test_every_wood_that_moves_is_of_a_class_by_all_its_names() -> None:
    for wood in known_woods():
        for name in (wood.name, *wood.also):
            known = name.replace("-", " ") in _wood_names()
            assert known, name
    assert wood_class_of("Shina plywood") == wood_class_of("shina") == "softwood"
    assert wood_class_of("Japanese cherry, plank") == wood_class_of("honoki") == "hardwood"
    assert wood_class_of("maple ply") == "softwood", "plywood, whatever its plies"
    assert wood_class_of("medium fibreboard") == "MDF"
    assert wood_class_of("") == wood_class_of("ebony") == "hardwood", "the careful side"
