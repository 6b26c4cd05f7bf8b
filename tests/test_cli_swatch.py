"""The commands about swatches, from the sheet to the inks, and what they refuse."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench.sheets import BLACK, PAPER, drawn_page, filled, photographed
from PIL import Image

from blockwright import studio, swatches
from blockwright.cli import run
from blockwright.colour import (
    colour_reflectance,
    lab_to_hex,
    layer_reflectance,
    linear_to_lab,
    linear_to_srgb,
    reflectance_to_lab,
)
from blockwright.colour.bands import BANDS_NM
from blockwright.colour.films import overprinted
from blockwright.colour.inks import to_arrays
from blockwright.colour.nearby import near_on_shelf
from blockwright.colour.optics import MIXTURE_DELTA_E00, uncertainty_delta_e00
from blockwright.colour.pigments import shipped_pigments
from blockwright.colour.wanted import wanted_colour
from blockwright.inks.cgats import compose_cgats
from blockwright.keeping import numbered
from blockwright.model.errors import InkError, SettingsError
from blockwright.model.inks import MixedInk, Part
from blockwright.swatches import parse_mix, parse_paper

Capture = pytest.CaptureFixture[str]

SCALE = 4.5
K = {"rose": np.array([0.1, 0.7, 0.4]), "Prussian blue": np.array([0.9, 0.4, 0.1])}
S = 0.05


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sheet of two inks and their mixture, printed and scanned, and a chart scanned beside it."""
    place = tmp_path_factory.mktemp("swatches")
    words = ["--ink", "rose", "--ink", "Prussian blue", "--mix", "rose 40 + Prussian blue"]
    assert run(["swatch", "sheet", str(place / "sheet.pdf"), *words]) == 0
    (page,) = swatches.read_description(place / "sheet.json")
    truth = {}
    for patch in page.patches:
        seen = PAPER if patch.ground == "paper" else BLACK
        if patch.row is not None:
            k = sum(share * K[name] for name, share in page.plan.rows[patch.row].parts)
            seen = layer_reflectance(k, S, float(patch.passes), seen)
        truth[patch.code] = seen
    scene = filled(page, drawn_page(page, pixels_per_mm=SCALE), truth, pixels_per_mm=SCALE)
    Image.fromarray(photographed(scene)).save(place / "scan.png")
    _write_chart(place)
    return place


def _write_chart(place: Path) -> None:
    """A chart of 6 by 4 patches: its measured Lab, its scan as a grid and as a table; red is scanned dark."""
    true = np.random.default_rng(7).uniform(0.05, 0.85, (24, 3))
    coded = np.rint(linear_to_srgb(true * [0.85, 1.0, 1.0]) * 255.0)
    grid = np.repeat(np.repeat(coded.reshape(4, 6, 3), 30, axis=0), 30, axis=1)
    Image.fromarray(grid.astype(np.uint8)).save(place / "chart.png")
    ids = [f"P{k}" for k in range(24)]
    lab = [[i, *(f"{v:.4f}" for v in row)] for i, row in zip(ids, linear_to_lab(true), strict=True)]
    text = compose_cgats(["SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B"], lab, keywords=[("ILLUMINANT", "D65")])
    (place / "chart.txt").write_text(text, encoding="utf-8")
    rgb = [",".join([i, *(f"{v:.0f}" for v in row)]) for i, row in zip(ids, coded, strict=True)]
    (place / "chart-rgb.csv").write_text("\n".join(["ID,RGB_R,RGB_G,RGB_B", *rgb]), encoding="utf-8")


def said(capsys: Capture, *words: str, code: int = 0) -> str:
    capsys.readouterr()
    assert run(["swatch", *words]) == code
    out, err = capsys.readouterr()
    return err if code else out


def told(capsys: Capture, *words: str) -> dict[str, Any]:
    found = json.loads(said(capsys, *words, "--json"))
    assert isinstance(found, dict)
    return found


# --- sheet -------------------------------------------------------------------------------------------------


def test_a_sheet_is_drawn_and_described(tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / "two pages.pdf"
    inks = [word for k in range(9) for word in ("--ink", f"ink {k}")]
    found = told(capsys, "sheet", str(out), *inks, "--paper", "letter", "--print-black")
    assert out.read_bytes().startswith(b"%PDF")
    assert found["sheet"] == str(tmp_path / "two pages.json")
    assert len(found["pages"]) == 2
    assert [row for page in found["pages"] for row in page["rows"]] == [f"ink {k}" for k in range(9)]
    assert told(capsys, "sheet", str(out), *inks, "--paper", "letter", "--print-black") == found, "once more"
    words = said(capsys, "sheet", str(tmp_path / "s.pdf"), "--ink", "rose", "--no-black", "--passes", "2")
    assert "1 row on 1 page. Print it at 100 %." in words


def test_the_description_of_another_sheet_is_not_lost(tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / "s.pdf"
    said(capsys, "sheet", str(out), "--ink", "rose")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    heard = said(capsys, "sheet", str(out), "--ink", "blue", code=2)
    assert "s.json is there already and describes something else" in heard
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_sheet_that_cannot_be_written_leaves_the_one_before(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "s.pdf"
    said(capsys, "sheet", str(out), "--ink", "rose")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert sorted(before) == ["s.json", "s.pdf"]

    def full(path: Path, _: object) -> int:
        path.write_bytes(b"%PDF-")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(swatches, "write_swatch_sheet", full)
    heard = said(capsys, "sheet", str(out), "--ink", "rose", code=2)
    assert heard == "s.pdf cannot be written: No space left on device.\n"
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_the_bowl_tells_how_much_ink_a_pass_takes(capsys: Capture) -> None:
    """4.8 g in ten pulls of 0.04 m2: 12 g to the square metre."""
    words = ["bowl", "--before", "183.4", "--after", "178.6", "--area-cm2", "400"]
    assert told(capsys, *words) == {"laydown_g_per_m2": 12.0}
    assert "[inks] laydown_g_per_m2 = 12" in said(capsys, *words)
    assert "must have become lighter" in said(
        capsys, "bowl", "--before", "1", "--after", "1", "--area-cm2", "9", code=2
    )


def test_a_damp_sheet_is_darker_and_dries_back(capsys: Capture) -> None:
    """A full film of water on a sheet of 0.8: 0.665, by Fresnel's equations, n = 1.33 (Saunderson 1942)."""
    grey, wet = (lab_to_hex(linear_to_lab([value] * 3)) for value in (0.8, 0.665))
    full = told(capsys, "damp", grey, "#b4935a")
    assert (full["wetness"], full["colours"][0]["while_damp_hex"]) == (1.0, wet)
    half = told(capsys, "damp", grey, "--wetness", "0.5")["colours"][0]
    seen = told(capsys, "damp", half["while_damp_hex"], "--dry", grey, "--damp", half["while_damp_hex"])
    assert seen["wetness"] == pytest.approx(0.5, abs=0.02)
    assert seen["colours"][0]["when_dry_hex"] == grey
    assert "while damp; what looks" in said(capsys, "damp", "#b4935a")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["red"], "a colour is written #rrggbb"),
        (["#b4935a", "--dry", "#ffffff"], "Give --dry and --damp of one patch"),
        (["#b4935a", "--wetness", "2"], "0 (dry) to 1 (a full film of water), not 2"),
        (["#b4935a", "--dry", "#000000", "--damp", "#000000"], "measure a lighter one"),
    ],
)
def test_wetness_that_cannot_be(capsys: Capture, words: list[str], message: str) -> None:
    assert message in said(capsys, "damp", *words, code=2)


def test_a_file_without_end_is_no_table(capsys: Capture) -> None:
    assert "larger than" in said(capsys, "import", "/dev/zero", code=2)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["sheet", "s.pdf"], "Missing option '--ink'"),
        (
            ["sheet", "s.pdf", "--ink", "rose", "--mix", "rose+blue"],
            "'blue' in it, which is no ink of this sheet",
        ),
        (["sheet", "s.pdf", "--ink", "rose", "--mix", "rose"], "A mixture is of two inks"),
        (["sheet", "s.pdf", "--ink", "rose", "--paper", "B4"], "The paper is A4, A3, Letter or a size"),
        (["sheet", "s.pdf", "--ink", "rose", "--paper", "9000x9000"], "is no sheet"),
        (["sheet", "s.pdf", "--ink", "rose", "--passes", "7"], "1 to 3 passes, not 7"),
        (["sheet", "s.json", "--ink", "rose"], "would be overwritten by its description"),
        (["sheet", "nowhere/s.pdf", "--ink", "rose"], "s.pdf cannot be written"),
        (["read", "scan.png"], "Missing option '--sheet'"),
        (["read", "scan.png", "--sheet", "none.json"], "none.json cannot be read"),
        (["import", "none.txt"], "none.txt cannot be read"),
        (["fetch"], "No such command 'fetch'"),
        ([], "Missing command"),
    ],
)
def test_wrong_words_are_refused_in_one_sentence(
    words: list[str], message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    monkeypatch.chdir(tmp_path)
    heard = said(capsys, *words, code=2)
    assert message in heard
    assert heard.count("\n") == 1
    assert not list(tmp_path.iterdir()), "nothing is written"


# --- read --------------------------------------------------------------------------------------------------


def test_a_scan_is_read_and_the_inks_are_found(folder: Path, capsys: Capture) -> None:
    paper = "#" + "".join(f"{round(v * 255):02x}" for v in linear_to_srgb(PAPER))
    words = ["read", str(folder / "scan.png"), "--sheet", str(folder / "sheet.json"), "--paper-is", paper]
    found = told(capsys, *words)
    (page,) = found["pages"]
    assert page["paper_hex"] == paper
    assert page["marks_missing"] == []
    assert {ink["name"] for ink in found["inks"]} == {"rose", "Prussian blue"}
    for ink in found["inks"]:
        true = linear_to_lab(layer_reflectance(K[ink["name"]], S, 1.0, PAPER))
        assert ink["passes"][0]["lab"] == pytest.approx(true.tolist(), abs=4.0)
        assert ink["origin"] == "scanned"
        assert len(ink["k"]) == len(ink["s"]) == 36
    (mixture,) = found["mixtures"]
    assert [part["share"] for part in mixture["parts"]] == [0.4, 0.6]
    assert any("Without a reference chart" in note for note in found["notes"])
    text = said(capsys, *words)
    assert "rose (scanned): by passes 1: #" in text
    assert "A scan cannot see how colours shift under another light" in text


def test_a_chart_corrects_the_scanner(folder: Path, capsys: Capture) -> None:
    base = ["read", str(folder / "scan.png"), "--sheet", str(folder / "sheet.json")]
    table = ["--chart", str(folder / "chart.txt"), "--chart-rgb", str(folder / "chart-rgb.csv")]
    grid = ["--chart", str(folder / "chart.txt"), "--chart-scan", str(folder / "chart.png")]
    grid += ["--chart-corners", "0,0 180,0 180,120 0,120", "--chart-grid", "6x4"]
    plain = told(capsys, *base)
    cut = ["--chart", str(folder / "chart.txt"), "--chart-scan", str(folder / "chart.png")]
    cut += ["--chart-grid", "6x4"]
    for chart in (table, grid, cut):
        found = told(capsys, *base, *chart)
        assert found["scanner"]["patches"] == 24
        assert found["scanner"]["median_delta_e00"] < 0.5 < found["scanner"]["before_delta_e00"]
        assert not any("Without a reference chart" in note for note in found["notes"])
        red, before = (int(told_["pages"][0]["paper_hex"][1:3], 16) for told_ in (found, plain))
        assert red > before
    assert "Scanner corrected by 24 patches of the chart" in said(capsys, *base, *table)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ["--paper-is", "white"],
            "The paper's colour is 'white'; a colour is written #rrggbb or lab(L, a, b)",
        ),
        (["--paper-is", "lab(100, 90, 0)"], "is one that no paper or ink can have"),
        (["--chart-grid", "6x4"], "--chart with the chart's measured values is needed"),
        (["--chart", "chart.txt"], "--chart needs --chart-rgb, or --chart-scan"),
        (
            [
                "--chart",
                "chart.txt",
                "--chart-scan",
                "chart.png",
                "--chart-corners",
                "1,1",
                "--chart-grid",
                "6x4",
            ],
            "--chart-corners is '1,1'; it must be four places",
        ),
        (
            [
                "--chart",
                "chart.txt",
                "--chart-scan",
                "chart.png",
                "--chart-corners",
                "1,1",
                "--chart-grid",
                "6",
            ],
            "--chart-grid is '6'; it must be columns x rows",
        ),
        (["scan.png"], "scan.png and scan.png show the same page"),
        (["chart.png"], "No mark of a calibration sheet is seen in chart.png"),
    ],
)
def test_wrong_words_about_a_scan(
    words: list[str], message: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    monkeypatch.chdir(folder)
    heard = said(capsys, "read", "scan.png", "--sheet", "sheet.json", *words, code=2)
    assert message in heard
    assert heard.count("\n") == 1


# --- import ------------------------------------------------------------------------------------------------


def _table(folder: Path, *, codes: bool) -> str:
    """Spectra of the sheet's patches, as an instrument writes them."""
    (page,) = swatches.read_description(folder / "sheet.json")
    bands = np.arange(36)
    k = {
        "rose": 0.8 * np.exp(-(((bands - 15) / 6.0) ** 2)),
        "Prussian blue": 0.9 * np.exp(-(((bands - 28) / 7.0) ** 2)),
    }
    rows = []
    for number, patch in enumerate(page.patches, start=1):
        seen = np.full(36, 0.8 if patch.ground == "paper" else 0.03)
        if patch.row is not None:
            film = sum(share * k[name] for name, share in page.plan.rows[patch.row].parts) + 0.02
            seen = layer_reflectance(film, 0.06, float(patch.passes), seen)
        name = patch.code.upper() if codes else f"place {number}"
        rows.append([str(number), name, *(f"{100.0 * v:.4f}" for v in seen)])
    rows.append(["900", "a tile", *["90.0"] * 36])
    return compose_cgats(["SAMPLE_ID", "SAMPLE_NAME", *(f"nm{nm:.0f}" for nm in BANDS_NM)], rows)


def test_a_measured_table_is_told(folder: Path, tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "measured.txt"
    path.write_text(_table(folder, codes=True), encoding="utf-8")
    found = told(capsys, "import", str(path))
    assert found["inks"] == []
    assert found["samples"][-1]["name"] == "a tile"
    assert len(found["samples"][0]["spectrum"]) == 36
    assert "were read as percent" in found["notes"][0]
    assert "900  a tile  #" in said(capsys, "import", str(path))


def test_measured_patches_of_a_sheet_become_inks(folder: Path, tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "measured.txt"
    path.write_text(_table(folder, codes=True), encoding="utf-8")
    found = told(capsys, "import", str(path), "--sheet", str(folder / "sheet.json"))
    assert [(ink["name"], ink["origin"]) for ink in found["inks"]] == [
        ("rose", "measured"),
        ("Prussian blue", "measured"),
    ]
    assert all(ink["residual_delta_e00"] < 0.3 for ink in found["inks"])
    assert found["notes"][-1].startswith("1 of ")
    np.testing.assert_allclose(np.median([ink["s"] for ink in found["inks"]], axis=1), 0.06, rtol=0.1)


def test_a_table_of_other_samples_or_of_one_twice(folder: Path, tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "measured.txt"
    path.write_text(_table(folder, codes=False).replace("\n1 ", "\n7777 "), encoding="utf-8")
    heard = said(capsys, "import", str(path), "--sheet", str(folder / "sheet.json"), code=2)
    assert "name samples by the patches' codes, such as 1w2" in heard
    path.write_text(_table(folder, codes=True).replace(" W2 ", " W1 "), encoding="utf-8")
    assert "two samples for the patch w1" in said(
        capsys, "import", str(path), "--sheet", str(folder / "sheet.json"), code=2
    )


def test_colours_without_spectra_count_as_scanned(folder: Path, tmp_path: Path) -> None:
    imported = swatches.import_table(tmp_path_with_lab(folder, tmp_path), folder / "sheet.json")
    assert imported.found is not None
    assert {ink.origin for ink in imported.found.inks} == {"scanned"}


def tmp_path_with_lab(folder: Path, tmp_path: Path) -> Path:
    path = tmp_path / "measured.txt"
    path.write_text(_table(folder, codes=True), encoding="utf-8")
    rows = [[s.id, s.name, *(f"{v:.3f}" for v in s.lab)] for s in swatches.import_table(path).table.samples]
    path.write_text(
        compose_cgats(["SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "LAB_A", "LAB_B"], rows), encoding="utf-8"
    )
    return path


# --- words -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "shares"),
    [
        ("rose+blue", (0.5, 0.5)),
        ("rose 30+blue 70", (0.3, 0.7)),
        ("rose 30 % + blue", (0.3, 0.7)),
        ("rose + blue 12,5%", (0.875, 0.125)),
        ("ink 15 + blue", (0.5, 0.5)),
    ],
)
def test_mixes_in_words(text: str, shares: tuple[float, float]) -> None:
    assert [share for _, share in parse_mix(text, ["rose", "blue", "ink 15"])] == pytest.approx(shares)


def test_papers_in_words() -> None:
    assert parse_paper("250x353") == parse_paper(" 250 × 353 ") == (250.0, 353.0)
    with pytest.raises(SettingsError):
        parse_paper("large")


def test_a_description_that_is_no_text(tmp_path: Path) -> None:
    (tmp_path / "sheet.json").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InkError, match=r"sheet\.json cannot be read: it is no text"):
        swatches.read_description(tmp_path / "sheet.json")


# --- kept on the shelf -------------------------------------------------------------------------------------


def test_what_a_scan_tells_is_kept_on_the_shelf(folder: Path, tmp_path: Path, capsys: Capture) -> None:
    """Prussian blue is on the shelf from the literature, and becomes one's own; rose is new."""
    database = tmp_path / "studio.db"
    words = ["read", str(folder / "scan.png"), "--sheet", str(folder / "sheet.json")]
    found = told(capsys, *words, "--keep", "--studio", str(database))
    assert found["kept"] == ["rose", "Prussian blue"]
    shelf = studio.open_studio(database)
    before = next(each for each in shipped_pigments() if each.name == "Prussian blue")
    blue, rose = (studio.show_pigment(shelf, name) for name in ("Prussian blue", "rose"))
    assert (blue.pigment.origin, blue.on_shelf, blue.pigment.source) == (
        "scanned",
        True,
        "calibration sheet, scan.png",
    )
    assert (blue.pigment.colour_index, blue.pigment.hazard) == (before.colour_index, before.hazard)
    assert rose.pigment.optics.k == pytest.approx(found["inks"][0]["k"])
    swatches_kept = studio.swatches_of(shelf, "rose")
    assert {(each.ground, each.passes) for each in swatches_kept} == {
        (ground, passes) for ground in ("white", "black") for passes in (1, 2, 3)
    }
    assert all(each.file_name == "scan.png" and each.file_sha256 for each in swatches_kept)
    # The same scan once more changes nothing.
    told(capsys, *words, "--keep", "--studio", str(database))
    assert studio.show_pigment(shelf, "rose").pigment == rose.pigment
    assert studio.swatches_of(shelf, "rose") == swatches_kept
    assert "Kept on the shelf: rose, Prussian blue." in said(
        capsys, *words, "--keep", "--studio", str(database)
    )


def test_measured_inks_are_kept_and_samples_are_not(folder: Path, tmp_path: Path, capsys: Capture) -> None:
    path, database = tmp_path / "measured.txt", tmp_path / "studio.db"
    path.write_text(_table(folder, codes=True), encoding="utf-8")
    keep = ["--keep", "--studio", str(database)]
    assert "tells of samples, not of inks" in said(capsys, "import", str(path), *keep, code=2)
    told(capsys, "import", str(path), "--sheet", str(folder / "sheet.json"), *keep)
    rose = studio.show_pigment(studio.open_studio(database), "rose").pigment
    assert (rose.origin, rose.source) == ("measured", "measured.txt")


@pytest.fixture
def pots(tmp_path: Path) -> Path:
    """A shelf with a pot that bears the name of an ink of the sheet, and one of another name."""
    shelf = studio.open_studio(tmp_path / "studio.db")
    for name in ("rose", "evening sea"):
        studio.add_recipe(shelf, name, (Part("bone black", 0.1), Part("viridian", 0.2)))
    return tmp_path / "studio.db"


def test_a_pot_becomes_known_by_the_scan_of_its_own_swatch(folder: Path, pots: Path, capsys: Capture) -> None:
    words = ["read", str(folder / "scan.png"), "--sheet", str(folder / "sheet.json")]
    words += ["--keep", "--studio", str(pots)]
    shelf = studio.open_studio(pots)
    reckoned = studio.show_ink(shelf, 1)
    paper = np.array(colour_reflectance("#f6efdf"))
    (before,) = near_on_shelf([reckoned], wanted_colour(_seen(reckoned)), paper, passes=1)
    found = told(capsys, *words, "--as", "Prussian blue=#2")
    assert found["kept"] == ["rose", "evening sea"]
    first, second = found["kept_as"]
    assert (first["kind"], first["number"], first["known_by"]) == ("ink", 1, "own swatch")
    assert (second["called"], second["number"]) == ("Prussian blue", 2)
    assert first["before"]["known_by"] == "recipe"
    assert first["before"]["delta_e00"] > 5.0
    pot = studio.show_ink(shelf, 1)
    assert (pot.origin, pot.known_by, pot.parts) == ("scanned", "own swatch", reckoned.parts)
    assert pot.optics.k == pytest.approx(found["inks"][0]["k"])
    assert len(studio.swatches_of(shelf, 1)) == 6
    assert "rose" not in {each.pigment.name for each in studio.list_pigments(shelf, retired=True)}
    assert studio.show_pigment(shelf, "Prussian blue").pigment.origin == "literature"
    # What is predicted of it has lost the 3 of mixtures, and what else was unsure of its pigments.
    (after,) = near_on_shelf([pot], wanted_colour(_seen(pot)), paper, passes=1)
    assert after.uncertainty_delta_e00 < MIXTURE_DELTA_E00 < before.uncertainty_delta_e00
    text = said(capsys, *words, "--as", "Prussian blue=#2")
    assert "Ink 1, rose, was known by its own swatch (scanned) and is by this one (scanned); one pass" in text
    assert len(studio.swatches_of(shelf, 1)) == 6, "the same scan once more"


def _seen(ink: MixedInk) -> tuple[float, float, float]:
    """Lab of one pass of an ink on the usual paper."""
    paper = colour_reflectance("#f6efdf")
    light, a, b = reflectance_to_lab(layer_reflectance(ink.optics.k, ink.optics.s, 1.0, paper)).tolist()
    return light, a, b


def test_inks_that_are_nowhere_on_the_shelf_can_become_pots(
    folder: Path, tmp_path: Path, capsys: Capture
) -> None:
    path, database = tmp_path / "measured.txt", tmp_path / "studio.db"
    path.write_text(_table(folder, codes=True), encoding="utf-8")
    words = ["import", str(path), "--sheet", str(folder / "sheet.json"), "--studio", str(database), "--keep"]
    text = said(capsys, *words, "--new-as", "new ink")
    assert "Ink 1, rose: new on the shelf, without a recipe, known by its own swatch (measured)." in text
    assert "Prussian blue: its origin was literature and is measured now; one pass on this paper" in text
    shelf = studio.open_studio(database)
    rose = studio.show_ink(shelf, 1)
    assert (rose.known_by, rose.origin, rose.parts) == ("own swatch", "measured", ())
    patches = studio.swatches_of(shelf, 1)
    assert {(each.ground, each.passes) for each in patches} == {
        (ground, passes) for ground in ("white", "black") for passes in (1, 2, 3)
    }
    assert all(each.reflectance and each.file_name == "measured.txt" for each in patches)
    told(capsys, *words, "--new-as", "new ink")
    assert len(studio.list_inks(shelf)) == 1, "the second time it is known"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--as", "rose=pigment"], "they go with --keep"),
        (["--new-as", "new ink"], "they go with --keep"),
        (["--keep", "--new-as", "pot"], "--new-as is 'pot'; it is 'pigment' or 'new ink'."),
        (["--keep", "--as", "rose"], "--as is 'rose'; write NAME=pigment"),
        (["--keep", "--as", "rose=mud"], "--as is 'rose=mud'; write NAME=pigment"),
        (["--keep", "--as", "rose=#1", "--as", "rose=#2"], "--as says twice what rose is to be kept as"),
        (["--keep", "--as", "pink=#1"], "pink is no ink that was found on the sheet; found: rose,"),
        (["--keep", "--as", "rose=#9"], "No mixed ink has the number 9"),
        (["--keep", "--as", "rose=#2"], "Ink 2, evening sea, is retired"),
        (["--keep"], "Several mixed inks are called rose: say which is meant, #1 or #3."),
    ],
)
def test_what_cannot_be_kept_is_said_and_nothing_is(
    folder: Path, pots: Path, capsys: Capture, words: list[str], message: str
) -> None:
    shelf = studio.open_studio(pots)
    studio.edit_ink(shelf, 2, retired=True)
    studio.add_recipe(shelf, "rose", (Part("viridian", 0.2),))
    base = ["read", str(folder / "scan.png"), "--sheet", str(folder / "sheet.json"), "--studio", str(pots)]
    heard = said(capsys, *base, *words, code=2)
    assert message in heard
    assert heard.count("\n") == 1
    assert {each.known_by for each in studio.list_inks(shelf, retired=True)} == {"recipe"}
    assert studio.swatches_of(shelf) == ()


def test_a_sheet_bears_number_and_name_of_a_pot(tmp_path: Path, pots: Path, capsys: Capture) -> None:
    words = ["--ink", "#2", "--ink", "rose madder", "--mix", "rose madder+#2 30 %", "--studio", str(pots)]
    (page,) = told(capsys, "sheet", str(tmp_path / "s.pdf"), *words)["pages"]
    assert page["rows"] == ["#2 evening sea", "rose madder", "rose madder 70 % + #2 evening sea 30 %"]
    long = studio.add_recipe(
        studio.open_studio(pots), "rose+" + " ".join(["umber"] * 15), (Part("viridian", 0.2),)
    )
    words = ["--ink", f"#{long.number}", "--ink", "ochre", "--mix", f"#{long.number}+ochre"]
    (page,) = told(capsys, "sheet", str(tmp_path / "u.pdf"), *words, "--studio", str(pots))["pages"]
    assert page["rows"][0].startswith("#3 rose and umber umber")
    assert numbered(page["rows"][0]) == long.number
    assert page["rows"][2] == f"{page['rows'][0]} + ochre"
    assert "number 8" in said(
        capsys, "sheet", str(tmp_path / "t.pdf"), "--ink", "#8", "--studio", str(pots), code=2
    )
    assert not (tmp_path / "t.pdf").exists()


@pytest.mark.parametrize("kind", ["CGATS", "CSV of colours"])
def test_swatches_that_were_measured_are_kept(
    folder: Path, tmp_path: Path, capsys: Capture, kind: str
) -> None:
    """As spectra with the spectrum of their ground, or as colours where the table has no more."""
    path, database = tmp_path / "measured.txt", tmp_path / "studio.db"
    path.write_text(_table(folder, codes=True), encoding="utf-8")
    if kind != "CGATS":
        samples = swatches.import_table(path).table.samples
        lines = [",".join([each.name, *(f"{v:.3f}" for v in each.lab)]) for each in samples]
        path.write_text("\n".join(["ID,LAB_L,LAB_A,LAB_B", *lines]), encoding="utf-8")
    words = ["import", str(path), "--sheet", str(folder / "sheet.json"), "--keep", "--studio", str(database)]
    told(capsys, *words)
    shelf = studio.open_studio(database)
    for name in ("rose", "Prussian blue"):
        kept = studio.swatches_of(shelf, name)
        assert {(each.ground, each.passes) for each in kept} == {
            (ground, passes) for ground in ("white", "black") for passes in (1, 2, 3)
        }
        assert all(each.file_name == "measured.txt" and each.file_sha256 for each in kept)
        for each in kept:
            if kind == "CGATS":
                assert each.reflectance is not None
                assert each.ground_reflectance is not None
                ground = 0.8 if each.ground == "white" else 0.03
                assert each.ground_reflectance == pytest.approx([ground] * 36, abs=1e-4)
                assert (each.lab, each.origin) == (None, "measured")
            else:
                assert each.lab is not None
                assert (each.reflectance, each.ground_reflectance, each.origin) == (None, None, "scanned")
    once = studio.swatches_of(shelf, "rose")
    told(capsys, *words)
    assert studio.swatches_of(shelf, "rose") == once, "the same table once more keeps nothing twice"


def test_an_ink_is_kept_as_unsure_as_it_is_told(folder: Path) -> None:
    """What is predicted from it later is no surer than what is told now."""
    paper = np.full(36, PAPER.mean())

    def one_pass(k: np.ndarray, s: np.ndarray) -> np.ndarray:
        return overprinted(k[..., 0, :], s[..., 0, :], paper)

    for ink in swatches.read_scans([folder / "scan.png"], folder / "sheet.json").found.inks:
        off = uncertainty_delta_e00(to_arrays([ink.name], [ink.optics]), one_pass)
        assert off == pytest.approx(ink.uncertainty_delta_e00, rel=0.25)
