"""The command ``mix``: words and weights for a printmaker, an object for a program, a sentence for a slip."""

import json
from pathlib import Path
from typing import Any

import pytest

from blockwright import mixing, project
from blockwright.cli import run
from blockwright.colour import delta_e00, hex_to_lab
from blockwright.colour.nearby import near_on_shelf
from blockwright.colour.wanted import wanted_colour
from blockwright.model.inks import MixedInk, Part

Capture = pytest.CaptureFixture[str]

OCHRE = "#b4935a"
POT = "Indian red=15.3, Hooker's green=8.0, brilliant orange=5.6, paste=11.1"


def said(capsys: Capture, *words: str, code: int = 0) -> str:
    capsys.readouterr()
    assert run(["mix", *words]) == code
    out, error = capsys.readouterr()
    assert bool(out) == (code == 0)
    return out or error


def told(capsys: Capture, *words: str) -> dict[str, Any]:
    found = json.loads(said(capsys, *words, "--json"))
    assert isinstance(found, dict)
    return found


def test_one_object_for_a_program(capsys: Capture) -> None:
    found = told(capsys, "--target", OCHRE)
    assert found["reachable"] is True
    assert found["shelf"] == []
    assert found["target"]["hex"] == OCHRE
    assert float(delta_e00(found["nearest"]["lab"], hex_to_lab(OCHRE))) < 0.1
    for recipe in found["recipes"]:
        assert {
            "components",
            "passes",
            "predicted_lab",
            "predicted_hex",
            "delta_e00",
            "worst_light_delta_e00",
            "uncertainty_delta_e00",
        } <= set(recipe)
        assert sum(each["parts"] for each in recipe["components"]) == pytest.approx(100.0, abs=0.01)
        assert recipe["components"][-1]["name"] == "rice paste"
        assert recipe["batch"]["total_g"] == pytest.approx(40.0, abs=0.3)
    assert found["recipes"][0]["delta_e00"] < 0.1


def test_words_and_weights_for_a_printmaker(capsys: Capture) -> None:
    text = said(capsys, "--target", "lab(40, -20, -10)", "--batch-g", "60")
    assert text.startswith("Wanted: ")
    for word in (" ml  rice paste", "60.0 g ", "true to about ±", "lamp or shop light", "--correct"):
        assert word in text
    assert "hue trends, not the strength" in text
    alone = said(capsys, "--target", OCHRE, "--pigments", "Indian red")
    assert "Indian red is known from the literature" in alone, "only those of the literature are named"
    assert "safety data sheet" in text
    assert "not its spectrum" in text


def test_an_edition_is_mixed_for_by_weight_and_by_volume(capsys: Capture) -> None:
    """Area x passes x sheets x coverage x laydown, a fifth more; volumes by the pigments' densities."""
    edition = ["--area-cm2", "400", "--sheets", "60", "--coverage-percent", "50"]
    found = told(capsys, "--target", OCHRE, *edition)
    densities = {each.name: each.density_g_per_ml for each in mixing.chosen_pigments([])}
    for recipe in found["recipes"]:
        taken, batch = recipe["edition"], recipe["batch"]
        assert taken["printed_g"] == pytest.approx(0.04 * recipe["passes"] * 60 * 0.5 * 12.0)
        assert taken["needed_g"] == pytest.approx(1.2 * taken["printed_g"], abs=1e-3)
        assert taken["needed_g"] <= batch["total_g"] + 0.15 <= taken["needed_g"] + 0.5
        for each in batch["components"]:
            pure_g = each["mass_g"] / each["thinned"]
            volume_ml = pure_g / densities.get(each["name"], 1.0) + each["mass_g"] - pure_g
            assert each["volume_ml"] == pytest.approx(volume_ml, abs=1e-4)
        assert batch["total_ml"] == pytest.approx(sum(e["volume_ml"] for e in batch["components"]), abs=1e-3)
        # The exact recipe and what is weighed of it fill as much, to what the scale leaves.
        assert taken["needed_ml"] == pytest.approx(batch["total_ml"], abs=0.5)
    more = told(capsys, "--target", OCHRE, *edition, "--laydown-g-per-m2", "24", "--reserve-percent", "0")
    assert more["recipes"][0]["edition"]["needed_g"] == pytest.approx(
        2.0 * found["recipes"][0]["edition"]["printed_g"]
    )
    assert "The edition takes 14.4 g (" in said(capsys, "--target", OCHRE, *edition, "--passes", "1")
    small = said(capsys, "--target", OCHRE, "--area-cm2", "1", "--sheets", "1")
    assert "Less than 5 g, a small bowl, is never mixed." in small
    assert told(capsys, "--target", OCHRE)["recipes"][0]["edition"] is None


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--area-cm2", "400"], "An edition needs --area-cm2"),
        (["--sheets", "60"], "and --sheets"),
        (["--area-cm2", "400", "--sheets", "60", "--batch-g", "5"], "leave --batch-g and --correct out"),
        (["--area-cm2", "-1", "--sheets", "60"], "is above 0"),
        (["--area-cm2", "nan", "--sheets", "60"], "is above 0"),
        (["--area-cm2", "400", "--sheets", "0"], "At least one pass on one sheet"),
        (["--area-cm2", "400", "--sheets", "60", "--coverage-percent", "150"], "at most 100"),
        (["--area-cm2", "400", "--sheets", "60", "--reserve-percent", "-1"], "The reserve is -1 %"),
    ],
)
def test_an_edition_that_cannot_be(capsys: Capture, words: list[str], message: str) -> None:
    heard = said(capsys, "--target", OCHRE, *words, code=2)
    assert message in heard
    assert heard.count("\n") == 1


def test_out_of_reach_is_said_with_the_nearest(capsys: Capture) -> None:
    text = said(capsys, "--target", "#00ff00")
    assert "do not reach it" in text
    assert "the nearest is #" in text
    assert told(capsys, "--target", "#00ff00")["reachable"] is False


def test_the_colour_of_the_paper_needs_no_ink(capsys: Capture) -> None:
    assert "print nothing here" in said(capsys, "--target", mixing.PAPER)
    assert told(capsys, "--target", mixing.PAPER)["bare_delta_e00"] == 0.0
    assert "print nothing here" not in said(capsys, "--target", OCHRE)


def test_pigments_are_chosen_by_name_or_index(capsys: Capture) -> None:
    words = ("--pigments", "pv19, burnt umber", "--pigments", "PY35", "--most", "2", "--passes", "2")
    found = told(capsys, "--target", OCHRE, *words)
    names = {each["name"] for recipe in found["recipes"] for each in recipe["components"]}
    assert names <= {"quinacridone rose", "burnt umber", "cadmium yellow", "rice paste"}
    assert {recipe["passes"] for recipe in found["recipes"]} == {2}
    assert max(len(recipe["components"]) for recipe in found["recipes"]) <= 3
    assert [each["name"] for each in found["cautions"]] == ["burnt umber", "cadmium yellow"]


def test_what_lies_beneath_changes_the_recipe(capsys: Capture) -> None:
    plain, over = (told(capsys, "--target", "#5a6a4a", *words) for words in ((), ("--over", "#e0c040")))
    assert plain["recipes"][0]["components"] != over["recipes"][0]["components"]
    assert told(capsys, "--target", "#f0f0f0", "--paper", "#a08060")["reachable"] is True


def test_a_colour_of_a_print_by_name_and_by_place(capsys: Capture, made_print: Path) -> None:
    design = project.make(made_print, upto="design").stages[0].value
    shape = design.shapes[0]
    colour = design.palette[shape.colour]
    by_place = told(capsys, "--target", f"{made_print}:{shape.at[0]},{shape.at[1]}")
    assert by_place["target"]["hex"] == colour.srgb_hex
    assert told(capsys, "--target", f"{made_print}:{colour.name.upper()}") == by_place
    paper = told(capsys, "--target", colour.srgb_hex, "--paper", design.paper_hex)
    assert paper["recipes"] == by_place["recipes"]


def test_near_misses_on_the_shelf_come_first(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    rose = mixing.chosen_pigments(["PV19"])[0]
    ink = MixedInk(14, "old rose", (Part(rose.name, 1.0),), 0.0, rose.optics, "literature", pot_g=80.0)
    monkeypatch.setattr(mixing, "_inks_at_hand", lambda: (ink,))
    over = mixing.ground_of(mixing.PAPER, "Old Rose")
    assert over.shape == (36,)
    assert told(capsys, "--target", "#ffffff", "--pigments", "PV19")["shelf"] == []
    text = said(capsys, "--target", _hex_of(ink), "--pigments", "PV19")
    assert "You have one within 0." in text.splitlines()[1]
    assert "No. 14, old rose, in 1 pass" in text


def _hex_of(ink: MixedInk) -> str:
    found = near_on_shelf(
        [ink],
        wanted_colour((50.0, 60.0, -20.0)),
        mixing.ground_of(mixing.PAPER, None),
        passes=1,
        within_delta_e00=99.0,
    )
    return found[0].predicted_hex


def test_a_correction_tells_what_to_add(capsys: Capture) -> None:
    words = ("--target", OCHRE, "--correct", POT, "--swatch", "#a9814a", "--passes", "1")
    found = told(capsys, *words)["correction"]
    assert found["before_delta_e00"] > 3.0
    assert found["delta_e00"] < 1.0
    assert all(each["mass_g"] > 0.0 for each in found["add"])
    assert found["total_g"] == pytest.approx(40.0 + sum(each["mass_g"] for each in found["add"]))
    text = said(capsys, *words)
    assert "Add:" in text
    assert "times as strong as was thought" in text
    assert "add nothing" in said(capsys, *words[:4], "--swatch", OCHRE, "--passes", "1")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ("--target", "ochre"),
            "--target is 'ochre'; a colour is written #rrggbb or lab",
        ),
        (("--target", "lab(50, 0, 200)"), "no paper or ink can have"),
        (("--target", "nowhere:blue"), "There is no folder nowhere"),
        (("--target", OCHRE, "--pigments", "burnt umbre"), "'burnt umbre'; perhaps burnt umber."),
        (("--target", OCHRE, "--pigments", "xyz"), "no pigment 'xyz'; there are quinacridone rose,"),
        (("--target", OCHRE, "--passes", "5"), "1 to 4 passes, not 5"),
        (("--target", OCHRE, "--most", "0"), "1 to 4 pigments, not 0"),
        (("--target", OCHRE, "--batch-g", "-3"), "A batch of -3 g cannot be mixed"),
        (("--target", OCHRE, "--step-g", "0"), "steps of 0 g"),
        (("--target", OCHRE, "--paper", "white"), "--paper is 'white'"),
        (("--target", OCHRE, "--over", "old rose"), "no ink is on the shelf"),
        (("--target", OCHRE, "--correct", POT), "A correction needs --correct"),
        (("--target", OCHRE, "--swatch", OCHRE, "--passes", "1"), "A correction needs --correct"),
        (
            ("--target", OCHRE, "--correct", "rose", "--swatch", OCHRE, "--passes", "1"),
            "--correct has 'rose'; write what the pot holds as NAME=GRAMS",
        ),
        (
            ("--target", OCHRE, "--correct", "paste=5", "--swatch", OCHRE, "--passes", "1"),
            "The pot has no pigment in it",
        ),
        (
            ("--target", OCHRE, "--correct", "PV99=5", "--swatch", OCHRE, "--passes", "1"),
            "There is no pigment 'PV99'",
        ),
        ((), "--target"),
    ],
)
def test_a_slip_gets_one_sentence(capsys: Capture, words: tuple[str, ...], sentence: str) -> None:
    text = said(capsys, *words, code=2)
    assert sentence in text
    assert text.count("\n") == 1


def test_a_place_or_name_that_is_not_there_is_said(capsys: Capture, made_print: Path) -> None:
    text = said(capsys, "--target", f"{made_print}:9999,5", code=2)
    assert "nothing at 9999, 5 mm; the image is" in text
    assert "has no colour 'moonlight'" in said(capsys, "--target", f"{made_print}:moonlight", code=2)


def test_a_shelf_without_pigments_is_said(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mixing, "_pigments_at_hand", tuple)
    assert "There is no pigment to mix from" in said(capsys, "--target", OCHRE, code=2)
