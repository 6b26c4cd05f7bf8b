"""Router bits and machines: kept exactly, checked, found by name, and out and in by tables."""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from small_shelf import MONDAY, a_machine, a_tapered_bit, made_before, opened

from blockwright import bits, ledger, shelf
from blockwright.colour.mixed_optics import mixed_film
from blockwright.ledger import Ledger
from blockwright.ledger.router_first import first_bits, first_machines
from blockwright.ledger.router_values import check_bit, check_machine
from blockwright.ledger.sheets import read_sheet
from blockwright.model.errors import BitError, InkError
from blockwright.model.home import DATABASE_NAME
from blockwright.model.router import Bit

FLAT = first_bits()[0].bit
PLAIN = first_machines()[0].machine


@pytest.fixture
def studio(tmp_path: Path) -> Ledger:
    return made_before(tmp_path / "studio.db")


def taken(studio: Ledger, text: str) -> list[tuple[str, int, int, int]]:
    sheet = read_sheet("list.csv", text.encode())
    with studio.writing() as connection:
        told = ledger.take_in(connection, [sheet], mix=mixed_film, at=MONDAY)
    return [(each.table, each.added, each.changed, each.known) for each in told]


# ---- What a shelf begins with -----------------------------------------------------------------------------


def test_a_shelf_begins_with_the_usual_bits_and_a_plain_machine(studio: Ledger, tmp_path: Path) -> None:
    first = bits.first_routers()
    assert [each.name for each in first.bits] == ["6 mm flat", "3 mm flat", "1.5 mm flat", "60 degree V"]
    assert bits.list_bits(studio) == first_bits()
    assert bits.list_machines(studio) == first_machines()
    assert bits.read_routers(tmp_path / "none.db") == bits.read_routers(tmp_path / "studio.db") == first
    assert not (tmp_path / "none.db").exists()


def test_what_the_shelf_begins_with_could_be(studio: Ledger) -> None:
    for bit in first_bits():
        check_bit(bit)
    for machine in first_machines():
        check_machine(machine)


def test_what_is_retired_is_not_routed_with(
    studio: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path))
    assert DATABASE_NAME == "studio.db"
    assert len(shelf.routers_at_hand().bits) == 4
    bits.edit_bit(studio, "6 MM flat", retired=True)
    assert [each.name for each in shelf.routers_at_hand().bits] == ["3 mm flat", "1.5 mm flat", "60 degree V"]
    bits.edit_machine(studio, PLAIN.name, retired=True)
    assert shelf.routers_at_hand().machines == (), "all are retired: nothing is put in their place"
    assert len(bits.list_bits(studio, retired=True)) == 4


# ---- Kept exactly -----------------------------------------------------------------------------------------


def test_bits_and_machines_are_kept_exactly_and_changed(studio: Ledger) -> None:
    kept = bits.add_bit(studio, a_tapered_bit().bit, notes=a_tapered_bit().notes)
    assert kept.bit == replace(a_tapered_bit().bit, number=5), "the next free place of the tool table"
    assert bits.show_bit(studio, "Fine, Tapered") == kept
    bits.add_machine(studio, a_machine().machine, notes=a_machine().notes)
    assert bits.show_machine(studio, "in the cellar") == a_machine()
    changed = bits.edit_bit(studio, "fine, tapered", diameter_mm=3.0, cutting_mm=13.5, notes="")
    assert bits.show_bit(studio, "fine, tapered") == changed
    assert (changed.bit.diameter_mm, changed.notes) == (3.0, "")
    other = bits.edit_machine(studio, "in the cellar", begin=(), rpm=(5000.0, 20000.0), notes="oiled")
    assert bits.show_machine(studio, "in the cellar") == other
    assert [each.bit.name for each in bits.list_bits(studio, "TAPERED")] == ["fine, tapered"]
    assert bits.list_machines(studio, "oiled plain") == ()


def test_two_bits_in_use_never_have_one_number(studio: Ledger) -> None:
    with pytest.raises(BitError, match="has the number 2 in the tool table, which is that of 3 mm flat"):
        bits.add_bit(studio, replace(FLAT, name="twin", number=2))
    with pytest.raises(BitError, match="which is that of 3 mm flat"):
        bits.edit_bit(studio, "6 mm flat", number=2)
    bits.edit_bit(studio, "3 mm flat", retired=True)
    assert bits.add_bit(studio, replace(FLAT, name="twin", number=0)).bit.number == 2
    with pytest.raises(BitError, match="which is that of twin"):
        bits.edit_bit(studio, "3 mm flat", retired=False)


def test_names_are_taken_in_any_case_and_unknown_ones_told(studio: Ledger) -> None:
    with pytest.raises(BitError, match="A bit 6 mm flat stands on the shelf already"):
        bits.add_bit(studio, replace(FLAT, name="6 MM Flat", number=9))
    with pytest.raises(BitError, match="A machine plain table router stands"):
        bits.add_machine(studio, replace(PLAIN, name="Plain Table Router"))
    with pytest.raises(BitError, match=r"No bit on the shelf is called 3mm flat; perhaps 3 mm flat"):
        bits.show_bit(studio, "3mm flat")
    with pytest.raises(BitError, match="called zzz; blockwright shelf machine list shows"):
        bits.show_machine(studio, "zzz")


# ---- Refused ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"name": "12"}, "cannot be the name of a bit"),
        ({"kind": "drill"}, "is of the kind 'drill'; it is one of flat, ball, V, tapered"),
        ({"number": 0}, "in the tool table is 0; it is a whole number from 1 to 9999"),
        ({"flutes": 0}, "The number of flutes of new is 0"),
        ({"diameter_mm": 0.0}, "The diameter of new is 0; it is a number of mm above 0, 100 at most"),
        ({"diameter_mm": math.nan}, "The diameter of new is nan"),
        ({"diameter_mm": math.inf}, "The diameter of new is inf"),
        ({"shank_mm": -3.0}, "The shank of new is -3"),
        ({"cutting_mm": 0.0}, "The cutting length of new is 0"),
        ({"cutting_mm": 130.0}, "is 130 mm, more than 20 times its diameter of 6 mm"),
        ({"angle_deg": 60.0}, "new is a flat bit, which has neither angle nor tip"),
        ({"kind": "ball", "tip_mm": 1.0}, "new is a ball bit, which has neither"),
        ({"kind": "V"}, "The whole angle at the tip of new is 0 degrees; it is 5 to 170."),
        ({"kind": "V", "angle_deg": 60.0, "tip_mm": 6.0}, "The tip of new is 6 mm wide; it is 0 or more"),
        ({"kind": "V", "angle_deg": 60.0, "tip_mm": -1.0}, "The tip of new is -1 mm wide"),
        ({"kind": "tapered", "angle_deg": 10.0}, "The tip of new is 0 mm wide; it is above 0, the diameter"),
        (
            {"kind": "tapered", "angle_deg": 30.0, "tip_mm": 2.0, "cutting_mm": 20.0},
            "from its tip it has reached its diameter of 6 mm after 8.3 mm",
        ),
    ],
)
def test_impossible_bits_are_refused(studio: Ledger, fields: dict[str, Any], told: str) -> None:
    """The figure of the tapered one is reckoned by hand below."""
    with pytest.raises(BitError, match=told) as caught:
        check_bit(replace(first_bits()[0], bit=replace(FLAT, **{"name": "new", **fields})))
    assert "\n" not in str(caught.value)
    if fields.get("number") != 0:
        with pytest.raises(BitError):
            bits.add_bit(studio, replace(FLAT, **{"name": "new", "number": 7, **fields}))
    assert len(bits.list_bits(studio, retired=True)) == 4


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"name": ""}, "cannot be the name of a machine"),
        ({"reach_mm": (600.0, 0.0, 80.0)}, "The travel of new along y is 0; it is a number of mm above 0"),
        ({"feed_mm_min": 0.0}, "The feed of new is 0; it is a number of mm a minute above 0"),
        ({"plunge_mm_min": 0.0}, "The plunging feed of new is 0"),
        ({"rapid_mm_min": -1.0}, "The speed above the work of new is -1"),
        ({"acceleration_mm_s2": 0.0}, "The acceleration of new is 0"),
        ({"rpm": (0.0, 24000.0)}, "The slowest spindle speed of new is 0"),
        ({"rpm": (24000.0, 8000.0)}, "turns from 24000 to 8000; the slowest stands first"),
        ({"safe_mm": 90.0}, "The safe height of new is 90; it is a number of mm above the work above 0, 80"),
        ({"junction_mm": 2.0}, "How far new may cut a corner is 2"),
        ({"change_s": -1.0}, "takes -1 s; it is 0 s to 3600 s"),
        ({"begin": ("G21", "M2 %")}, "The lines that begin a program for new have a %"),
        ({"end": ("x" * 256,)}, "The lines that end a program for new have 'xx"),
        ({"end": ("(Grüße)",)}, "plain letters without accents"),
        ({"begin": ("a",) * 101}, "are 101; 100 are the most"),
    ],
)
def test_impossible_machines_are_refused(studio: Ledger, fields: dict[str, Any], told: str) -> None:
    with pytest.raises(BitError, match=told) as caught:
        bits.add_machine(studio, replace(PLAIN, **{"name": "new", **fields}))
    assert "\n" not in str(caught.value)
    assert bits.list_machines(studio, retired=True) == first_machines()


def test_the_cone_of_a_tapered_bit_ends_where_its_diameter_is_reached() -> None:
    """By hand: a round tip of radius 1 touches the cone at cos 15 from the axis, 1 - sin 15 above the tip;
    from there (3 - cos 15) / tan 15 lead to the radius of 3.
    """
    lean = math.radians(15.0)
    cone_mm = 1.0 - math.sin(lean) + (3.0 - math.cos(lean)) / math.tan(lean)
    bit = Bit(1, "new", "tapered", 6.0, 2, 1.09 * cone_mm, angle_deg=30.0, tip_mm=2.0)
    check_bit(replace(first_bits()[0], bit=bit))
    with pytest.raises(BitError, match=f"after {cone_mm:.1f} mm"):
        check_bit(replace(first_bits()[0], bit=replace(bit, cutting_mm=1.11 * cone_mm)))


# ---- Tables -----------------------------------------------------------------------------------------------


def test_a_short_table_of_bits_is_enough(studio: Ledger) -> None:
    told = taken(
        studio,
        "bit;kind;diameter_mm;flutes;cutting_mm\nball;ball;3,175;2;12\n6 mm flat;flat;6;2;22\n",
    )
    assert told == [("bits", 1, 0, 1)]
    kept = bits.show_bit(studio, "ball").bit
    assert kept == Bit(5, "ball", "ball", 3.175, 2, 12.0, shank_mm=6.0)
    assert taken(studio, "bit,notes\nball,dull\n") == [("bits", 0, 1, 0)]
    assert bits.show_bit(studio, "ball") == replace(bits.show_bit(studio, "ball"), bit=kept, notes="dull")


def test_two_bits_may_change_places_in_one_table(studio: Ledger) -> None:
    assert taken(studio, "bit,bit_number\n6 mm flat,2\n3 mm flat,1\n") == [("bits", 0, 2, 0)]
    assert [each.bit.name for each in bits.list_bits(studio)][:2] == ["3 mm flat", "6 mm flat"]


def test_a_machine_is_taken_in_with_its_own_lines(studio: Ledger) -> None:
    head = "machine,travel_x_mm,travel_y_mm,travel_z_mm,feed_mm_min,plunge_mm_min,rapid_mm_min,"
    head += "acceleration_mm_s2,rpm_least,rpm_most,arcs,tool_change,safe_mm,begin"
    text = f'{head}\nbig,1200,800,100,5000,900,8000,400,6000,18000,no,yes,8,"(hello)\nM8"\n'
    assert taken(studio, text) == [("machines", 1, 0, 0)]
    machine = bits.show_machine(studio, "big").machine
    assert (machine.reach_mm, machine.rpm) == ((1200.0, 800.0, 100.0), (6000.0, 18000.0))
    assert (machine.arcs, machine.tool_change, machine.begin) == (False, True, ("(hello)", "M8"))
    assert taken(studio, "machine,begin\nBIG,\n") == [("machines", 0, 1, 0)]
    assert bits.show_machine(studio, "big").machine.begin == ()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("bit,kind\nnew,flat\n", "line 2, column diameter_mm: new is not on the shelf yet"),
        ("bit,kind\n6 mm flat,drill\n", "line 2, column kind: drill cannot be; it is one of flat, ball, V"),
        ("bit,flutes\n6 mm flat,0\n", "line 2, column flutes: 0 cannot be"),
        ("bit,kind\n6 mm flat,V\n", "line 2, column bit: The whole angle at the tip of 6 mm flat is 0"),
        ("bit,bit_number\n6 mm flat,3\n", "line 2, column bit_number: 6 mm flat has the number 3"),
        ("machine,safe_mm\nnew,5\n", "line 2, column travel_x_mm: new is not on the shelf yet"),
        ("machine,feed_mm_min\nplain table router,0\n", "column feed_mm_min: 0 cannot be"),
        ("machine,safe_mm\nplain table router,500\n", "line 2, column machine: The safe height of plain"),
        ("bit,price\n6 mm flat,3\n", "bits.csv has no such column; it has bit, bit_number, kind"),
    ],
)
def test_a_table_that_cannot_be_is_told_and_nothing_is_taken(studio: Ledger, text: str, told: str) -> None:
    with pytest.raises(InkError, match=told):
        taken(studio, text)
    assert (bits.list_bits(studio), bits.list_machines(studio)) == (first_bits(), first_machines())


def test_a_shelf_that_never_had_a_bit_is_taken_to_have_the_usual_ones(tmp_path: Path) -> None:
    studio = opened(tmp_path / "studio.db")
    with studio.writing() as connection:
        connection.exec_driver_sql("DELETE FROM router_bits")
        connection.exec_driver_sql("DELETE FROM machines")
    assert bits.read_routers(tmp_path / "studio.db") == bits.first_routers()
