"""The commands of the shelf, as a printmaker and a program call them."""

import json
import tempfile
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from blockwright import cli_inks, studio
from blockwright.cli import run
from blockwright.model.inks import Optics, Pigment
from blockwright.model.settings import PrintTable

Capture = pytest.CaptureFixture[str]


def pigments() -> tuple[Pigment, ...]:
    return (
        Pigment("rose", "PV19", Optics((0.2,) * 18 + (0.05,) * 18, (0.02,) * 36), "literature", "invented"),
        Pigment("blue", "PB15:3", Optics((0.05,) * 18 + (0.4,) * 18, (0.02,) * 36), "measured", "invented"),
    )


@lru_cache(maxsize=1)
def _made_once() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        studio.open_studio(Path(folder) / "studio.db", pigments=pigments)
        return (Path(folder) / "studio.db").read_bytes()


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path / "home"))
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "studio.db").write_bytes(_made_once())
    return tmp_path / "home"


def said(capsys: Capture, *words: str) -> str:
    capsys.readouterr()
    assert run(["shelf", *words]) == 0
    caught = capsys.readouterr()
    assert caught.err == ""
    return caught.out


def told(capsys: Capture, *words: str) -> dict[str, Any]:
    found = json.loads(said(capsys, *words, "--json"))
    assert isinstance(found, dict)
    return found


def refused(capsys: Capture, *words: str) -> str:
    capsys.readouterr()
    assert run(["shelf", *words]) == 2
    caught = capsys.readouterr()
    assert caught.out == ""
    assert caught.err.count("\n") == 1
    assert caught.err.endswith(".\n")
    assert "Traceback" not in caught.err
    return caught.err


def plum(capsys: Capture, *words: str) -> dict[str, Any]:
    return told(capsys, "add", "plum", "--part", "3 rose", "--part", "1 blue", "--paste", "6", *words)


def test_a_new_shelf_is_listed(capsys: Capture, home: Path) -> None:
    text = said(capsys, "list")
    assert text.startswith(
        "       blue (PB15:3): measured\n       rose (PV19): literature\n    1  6 mm flat: "
    )
    assert text.endswith(
        "       plain table router: 600 x 400 x 80 mm, 3000 mm a minute, 8000 to 24000 turns\n"
    )
    found = told(capsys, "list")
    assert found["studio"] == str(home / "studio.db")
    assert [each["name"] for each in found["pigments"]] == ["blue", "rose"]
    assert found["inks"] == []
    assert [each["name"] for each in found["bits"]][-1] == "60 degree V"
    assert [each["name"] for each in found["machines"]] == ["plain table router"]
    assert said(capsys, "list", "mauve") == "Nothing on the shelf has these words.\n"


def test_an_ink_is_added_in_parts(capsys: Capture) -> None:
    ink = plum(capsys, "--pot", "80", "--made-on", "2026-11-20", "--place", "shelf 2", "--notes", "sky")
    assert ink["parts"] == [{"pigment": "rose", "share": 0.3}, {"pigment": "blue", "share": 0.1}]
    assert ink["paste_share"] == pytest.approx(0.6)
    assert (ink["number"], ink["pot_g"], ink["made_on"], ink["origin"]) == (
        1,
        80.0,
        "2026-11-20",
        "literature",
    )
    assert said(capsys, "list", "plum") == "    1  plum: 30 % rose, 10 % blue, 60 % paste; 80 g\n"
    assert plum(capsys)["made_on"] == studio.today()


def test_an_ink_is_shown_with_all_that_is_known(capsys: Capture) -> None:
    plum(capsys, "--pot", "80")
    assert said(capsys, "weigh", "plum", "65.5") == (
        "The pot of plum holds 65.5 g, -14.5 g since the last weighing.\n"
    )
    found = told(capsys, "show", "1")
    assert [each["weight_g"] for each in found["weighings"]] == [80.0, 65.5]
    assert "holds 61.5 g" in said(capsys, "weigh", "plum", "61,5"), "a decimal comma"
    assert "it is 0 g to 100000 g" in refused(capsys, "weigh", "plum", "1e30")
    assert found["pot_g"] == 65.5
    assert found["k"][0] == pytest.approx(0.3 * 0.2 + 0.1 * 0.05)
    assert len(found["passes_hex"]) == 4
    assert found["swatches"] == found["uses"] == []
    text = said(capsys, "show", "plum")
    assert text.startswith("plum (mixed ink 1)\nrecipe: 30 % rose, 10 % blue, 60 % paste\n")
    assert " UTC: 65.5 g\n" in text


def test_inks_are_listed_by_their_colour(capsys: Capture) -> None:
    plum(capsys)
    told(capsys, "add", "sky", "--part", "1 blue", "--paste", "9")
    wanted = told(capsys, "show", "sky")["passes_hex"][1]
    found = told(capsys, "list", "--like", wanted)["inks"]
    assert (found[0]["name"], found[0]["passes"]) == ("sky", 2)
    assert found[0]["delta_e00"] < 0.5 < found[1]["delta_e00"]
    assert "    2  sky: 0." in said(capsys, "list", "--like", wanted)
    assert said(capsys, "list", "mauve", "--like", "50,0,0") == "There is no mixed ink to compare.\n"


def test_a_pigment_of_ones_own_is_added_and_edited(capsys: Capture) -> None:
    own = told(capsys, "add", "my rose", "--as", "rose", "--notes", "tube", "--density", "1.2")
    assert (own["source"], own["density_g_per_ml"]) == ("taken to be as rose (invented)", 1.2)
    words = ("--lightfastness", "ASTM I", "--hazard", "gloves", "--off-shelf", "--density", "1.3")
    edited = told(capsys, "edit", "my rose", *words)
    assert (edited["lightfastness"], edited["hazard"], edited["on_shelf"]) == ("ASTM I", "gloves", False)
    assert (edited["notes"], edited["density_g_per_ml"]) == ("tube", 1.3)
    emptied = told(capsys, "edit", "my rose", "--hazard", "", "--lightfastness", "")
    assert (emptied["lightfastness"], emptied["hazard"]) == (None, None)
    assert "my rose (PV19): literature, not at hand\n" in said(capsys, "list")
    assert said(capsys, "show", "my rose").startswith("my rose (pigment)\n")


def test_a_pot_says_that_it_is_known_by_its_own_swatch_and_can_be_reckoned_anew(capsys: Capture) -> None:
    reckoned = plum(capsys)
    assert reckoned["known_by"] == "recipe"
    assert "known by its recipe\n" in said(capsys, "show", "plum")
    optics = Optics((0.5,) * 36, (0.1,) * 36)
    shelf = studio.open_studio()
    studio.edit_ink(shelf, 1, optics=optics, origin="scanned", known_by="own swatch")
    assert "    1  plum: 30 % rose, 10 % blue, 60 % paste, known by its own swatch;" in said(capsys, "list")
    shown = told(capsys, "show", "1")
    assert (shown["known_by"], shown["k"][0]) == ("own swatch", 0.5)
    assert "known by its own swatch\n" in said(capsys, "show", "plum")
    assert told(capsys, "list")["inks"][0]["known_by"] == "own swatch"
    # To weigh it, or to note something of it, changes nothing of that.
    told(capsys, "weigh", "plum", "30")
    assert told(capsys, "edit", "plum", "--notes", "odd")["known_by"] == "own swatch"
    anew = told(capsys, "edit", "plum", "--from-recipe")
    assert anew == {**reckoned, "pot_g": 30.0, "notes": "odd"}
    assert studio.show_ink(shelf, 1).optics.k[0] == pytest.approx(0.3 * 0.2 + 0.1 * 0.05)
    assert "--from-recipe cannot be said of a pigment" in refused(capsys, "edit", "rose", "--from-recipe")


def test_what_is_retired_is_kept_and_comes_back(capsys: Capture) -> None:
    plum(capsys)
    assert said(capsys, "retire", "plum") == "plum is retired.\n"
    assert said(capsys, "retire", "rose") == "rose is retired.\n"
    assert "plum" not in said(capsys, "list")
    assert "plum: 30 % rose, 10 % blue, 60 % paste; never weighed, retired" in said(
        capsys, "list", "--retired"
    )
    told(capsys, "retire", "plum", "--back")
    assert "plum" in said(capsys, "list")
    assert told(capsys, "edit", "plum", "--place", "attic")["place"] == "attic"


def test_tables_go_out_and_come_in_to_another_database(
    capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(studio, "_shipped", lambda: studio.seed(pigments()))
    plum(capsys, "--pot", "80")
    files = told(capsys, "export", str(tmp_path / "tables"))["files"]
    assert len(files) == 7
    other = ("--studio", str(tmp_path / "other.db"))
    text = said(capsys, "import", str(tmp_path / "tables"), *other)
    assert text.startswith("pigments: 0 added, 0 changed, 2 as they were.\ninks: 1 added, 0 changed, ")
    here, there = told(capsys, "show", "1"), told(capsys, "show", "1", *other)
    assert {**there, "studio": None} == {**here, "studio": None}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("show", "mauve"), "No pigment on the shelf is called mauve"),
        (("show", "7"), "No mixed ink has the number 7"),
        (("show", "rose", "--paper", "white"), "'white' is no colour"),
        (("list", "--like", "white"), "'white'; a colour is written #rrggbb"),
        (("add", "plum"), "Give --part once for each pigment of a mixed ink, or --as for a pigment"),
        (("add", "plum", "--as", "rose", "--part", "1 blue"), "Give --part"),
        (("add", "plum", "--as", "rose", "--pot", "3"), "are for mixed inks"),
        (("add", "rose", "--as", "rose"), "A pigment rose stands on the shelf already"),
        (("add", "plum", "--part", "rose"), "--part is rose; write the parts and the pigment"),
        (("add", "plum", "--part", "three rose"), "--part is three; it must be a number"),
        (("add", "plum", "--part", "0 rose"), "the parts of a pigment are a number above 0"),
        (("add", "plum", "--part", "nan rose"), "the parts of a pigment are a number above 0"),
        (("add", "plum", "--part", "1 rose", "--paste", "-1"), "the parts of paste are 0 or more"),
        (("add", "plum", "--part", "1 mauve"), "is called mauve"),
        (("add", "plum", "--part", "1 rose", "--part", "1 rose"), "stands twice"),
        (("add", "plum", "--part", "1 rose", "--density", "0"), "The density of plum is 0"),
        (("add", "plum", "--part", "1 rose", "--made-on", "May"), "'May' is no date of plum"),
        (("add", "7", "--part", "1 rose"), "cannot be the name of a mixed ink"),
        (("edit", "rose"), "Say what to change"),
        (("edit", "rose", "--place", "attic"), "--place cannot be said of a pigment, which rose is"),
        (("edit", "rose", "--density", "heavy"), "--density is heavy; it must be a number"),
        (("edit", "rose", "--lightfastness", "good"), "it is ASTM I to ASTM V or Blue Wool 1 to Blue Wool 8"),
        (("weigh", "rose", "3"), "rose is a pigment, not a mixed ink"),
        (("weigh", "rose", "much"), "GRAMS is much; it must be a number"),
        (("import", "not-there.csv"), "not-there.csv cannot be read"),
        (("list", "--studio", "mysql://press/studio"), "is no place for the studio's database"),
        (("list", "--studio", "no-folder/studio.db"), "The folder no-folder of the studio's database"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(
    capsys: Capture, words: tuple[str, ...], sentence: str
) -> None:
    assert sentence in refused(capsys, *words)
    assert [each["name"] for each in told(capsys, "list")["pigments"]] == ["blue", "rose"]
    assert told(capsys, "list")["inks"] == []


def test_a_pigment_is_not_given_what_only_a_mixed_ink_has(capsys: Capture) -> None:
    plum(capsys)
    words = ("edit", "plum", "--hazard", "gloves", "--off-shelf")
    assert "--hazard and --on-shelf cannot be said of a mixed ink" in refused(capsys, *words)


def test_a_damaged_database_is_told(capsys: Capture, home: Path) -> None:
    (home / "studio.db").write_text("a letter " * 1000)
    assert "is damaged, or no database; it was left as it is" in refused(capsys, "list")
    assert (home / "studio.db").read_text() == "a letter " * 1000


def test_the_usual_paper_is_that_of_a_new_print() -> None:
    assert PrintTable.model_fields["paper"].default == cli_inks.PAPER


def test_where_an_ink_was_used_is_noted(capsys: Capture, made_print: Path) -> None:
    said(capsys, "add", "plum", "--part", "1 rose", "--paste", "3")
    print_ = str(made_print)
    stage = json.loads((made_print / "out" / "separation" / "separation.json").read_text(encoding="utf-8"))
    name = stage["impressions"][0]["name"]
    assert said(capsys, "used", "plum", print_, name.upper()).startswith(f"plum printed {name} of ")
    (use,) = told(capsys, "show", "plum")["uses"]
    assert (use["folder"], use["impression"]) == (str(made_print.resolve()), name)
    assert f"used in: {use['title']}: {name}" in said(capsys, "show", "plum")
    assert "has no impression mauve; there are " in refused(capsys, "used", "plum", print_, "mauve")
    assert "There is no folder nowhere" in refused(capsys, "used", "plum", "nowhere", name)
