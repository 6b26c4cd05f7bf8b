"""The key line and the traps by edge: what the station says, and what its acts write."""

from pathlib import Path
from typing import Any

import pytest

from blockwright.deciding import change
from blockwright.decisions import compose, parse
from blockwright.looking import STAGES, Look, StageLook
from blockwright.model.errors import SettingsError
from blockwright.model.settings import PrintTable, Settings
from blockwright.web import words
from blockwright.web.acts import read_act
from blockwright.web.key_and_traps import key_and_traps

FRESH = compose(Settings(print=PrintTable(title="Tide mill", width_mm=360.0)))
NAMES = [
    {"number": 1, "name": "sand", "ink": "sand", "hex": "#d9c39a"},
    {"number": 2, "name": "reed", "ink": "reed", "hex": "#6a7b42"},
    {"number": 3, "name": "soot", "ink": "soot", "hex": "#16120f"},
]


def edge(earlier: int, later: int, gap_mm2: float, **told: Any) -> dict[str, Any]:
    usual: dict[str, Any] = {"runs_under": earlier, "length_mm": 120.0, "trap_mm": 0.45, "reach_mm": 0.45}
    usual |= {"seam_delta_e00": 9.0, "reason": "seen", "at": [20.0, 30.0]}
    return {"earlier": earlier, "later": later, "gap_mm2": gap_mm2, **usual, **told}


def said(told: dict[str, Any], text: str = FRESH) -> dict[str, Any]:
    stages = {name: StageLook(name, "fresh") for name in STAGES}
    look = Look(Path("print"), parse(text), None, "hash of the text", stages)
    return key_and_traps(look, {"impressions": NAMES, "key": None, "edges": [], **told})


def decided(text: str, **fields: str) -> Settings:
    return parse(change(text, read_act(list(fields.items()))))


def test_what_the_key_carries() -> None:
    key = {"impression": 3, "line_mm": 412.2, "widest_line_mm": 3.0, "lifted_shapes": 2}
    told = said({"key": key, "edges": [edge(1, 3, 0.1, reason="line")]})["key"]
    assert told["said"] == [
        "The key, soot, carries 412\u00a0mm of line; the colours beneath close up to its middle.",
        "2 thin shapes of other colours carry the line on and were lifted into it.",
    ]
    assert [value for value, _ in told["choices"]] == ["found", "none", "sand", "reed", "soot"]
    assert told["now"] == "found"


@pytest.mark.parametrize(
    ("key", "line", "now"),
    [
        ("found", words.key_missing, "found"),
        ("none", words.key_none, "none"),
        ("#16120F", words.key_missing, "soot"),
    ],
)
def test_no_key_is_said_to_be_none(key: str, line: str, now: str) -> None:
    told = said({}, FRESH.replace('key = "found"', f'key = "{key}"'))["key"]
    assert (told["said"], told["now"]) == ([line], now)


def test_the_edges_with_most_to_lose_come_first_each_with_why() -> None:
    edges = [
        edge(1, 2, 0.4),
        edge(1, 3, 2.0, runs_under=3, reason="line"),
        edge(2, 3, 1.0, reason="hidden", reach_mm=0.2),
        *(edge(1, 2, 0.01 * k) for k in range(6)),
    ]
    rows = said({"edges": edges})["edges"]["rows"]
    pairs = [("Soot", "sand"), ("Reed", "soot"), ("Sand", "reed")]
    assert [(row["under"], row["over"]) for row in rows[:3]] == pairs
    assert [row["why"] for row in rows[:3]] == [
        "to the middle of the line along 120\u00a0mm",
        "along 120\u00a0mm, where thin shapes end it at 0.2\u00a0mm",
        "along 120\u00a0mm, where the overlap is seen",
    ]
    assert len(rows) == 6
    about = said({"edges": edges})["edges"]["about"]
    assert "0.3\u00a0mm" in about
    assert "3.55\u00a0mm²" in about


def test_edges_of_leaf_tell_who_hides_whom() -> None:
    gold = {"number": 4, "name": "gold leaf", "ink": None, "hex": "#d3a93c"}
    edges = [
        edge(1, 4, 2.0, reason="leaf", trap_mm=0.5, reach_mm=0.5),
        edge(2, 4, 1.0, reason="leaf over", trap_mm=0.4, reach_mm=0.4),
    ]
    under, over = said({"impressions": [*NAMES, gold], "edges": edges})["edges"]["rows"]
    assert (under["under"], under["over"], under["own"]) == ("Sand", "gold leaf", False)
    assert under["why"] == "along 120\u00a0mm, where leaf hides it"
    assert over["why"] == "along 120\u00a0mm, where the leaf runs over by hand"
    # As it stands in print.toml, so that typing the same again changes nothing.
    assert float(over["trap"].replace("\u2212", "-")) == -0.4
    assert over["own"]
    act = read_act([("act", "set-edge-trap"), ("at", "20,30"), ("mm", "-0.4")])
    assert act.told() == "let leaf run over the edge at 20, 30 by 0.4 mm"


def test_a_report_from_before_has_neither() -> None:
    stages = {name: StageLook(name, "fresh") for name in STAGES}
    look = Look(Path("print"), parse(FRESH), None, "hash", stages)
    assert key_and_traps(look, {"impressions": NAMES}) == {"key": None, "edges": None, "own_edges": []}


def test_the_key_is_set_by_name_and_no_place_overrules_it() -> None:
    at_place = FRESH.replace("# key_at = [120.5, 88.2]", "key_at = [10.0, 5.0]")
    after = decided(at_place, act="set-key", colour="reed").separation
    assert (after.key, after.key_at) == ("reed", None)
    assert read_act([("act", "set-key"), ("colour", "reed")]).told() == "make reed the key"
    assert read_act([("act", "set-key"), ("colour", "none")]).told() == "make no key"


def test_the_trap_of_an_edge_is_set_changed_and_taken_back() -> None:
    fields = {"act": "set-edge-trap", "at": "20.5,30", "everywhere": "true"}
    once = change(FRESH, read_act([*fields.items(), ("mm", "0,3")]))
    (first,) = parse(once).separation.edge_trap
    assert (first.at, first.mm, first.everywhere) == ((20.5, 30.0), 0.3, True)
    twice = change(once, read_act([*fields.items(), ("mm", "0.6")]))
    assert [each.mm for each in parse(twice).separation.edge_trap] == [0.6]
    assert not parse(change(twice, read_act([*fields.items(), ("mm", "")]))).separation.edge_trap
    assert read_act([*fields.items(), ("mm", "0.6")]).told() == (
        "trap the edges of the colours at 20.5, 30 by 0.6 mm"
    )
    own = said({}, once)["own_edges"]
    assert own[0]["said"] == "At every edge of the two colours at 20.5, 30.0 the trap is 0.3\u00a0mm."
    assert own[0]["fields"]["seen"] == "hash of the text"


@pytest.mark.parametrize(
    ("mm", "sentence"), [("wide", "must be a number"), ("40", "-10 to 10 mm"), ("-11", "-10 to 10 mm")]
)
def test_a_trap_that_is_none_is_refused_with_a_sentence(mm: str, sentence: str) -> None:
    with pytest.raises(SettingsError, match=sentence):
        decided(FRESH, act="set-edge-trap", at="20,30", mm=mm)
