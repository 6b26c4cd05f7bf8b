"""Tiles of a finished print: sizes, versions, what is refused, and what happens when the print changes."""

import io
import json
import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from blockwright import project
from blockwright.model.errors import BlockwrightError
from blockwright.recent import Recent
from blockwright.tiles import TileError, Tiles, TileSource
from tiny_print import IN_BLUE, decide, mix_from_the_shelf, tiny_pixels

VIEWS = ("picture", "shapes", "proof", "after-00", "after-02", "alone-01", "under-01")


def opened(tile: bytes) -> NDArray[np.uint8]:
    with Image.open(io.BytesIO(tile)) as picture:
        assert picture.format == "JPEG"
        return np.asarray(picture.convert("RGB"))


def smallest(tiles: Tiles, folder: Path, what: str) -> tuple[TileSource, NDArray[np.uint8]]:
    source = tiles.describe(folder, what)
    return source, opened(tiles.tile(folder, what, 0, 0, 0, source.version))


@pytest.mark.parametrize("what", VIEWS)
def test_every_view_has_tiles_of_the_sizes_it_tells(made_print: Path, what: str) -> None:
    tiles = Tiles()
    source = tiles.describe(made_print, what)
    assert source.width_px * source.mm_per_px == pytest.approx(60.0, abs=source.mm_per_px)
    assert source.height_px * source.mm_per_px == pytest.approx(45.0, abs=source.mm_per_px)
    for level in range(source.levels):
        halvings = source.levels - 1 - level
        width, height = -(-source.width_px >> halvings), -(-source.height_px >> halvings)
        columns, rows = -(-width // 512), -(-height // 512)
        last = opened(tiles.tile(made_print, what, level, columns - 1, rows - 1, source.version))
        assert last.shape == (height - 512 * (rows - 1), width - 512 * (columns - 1), 3)
    assert max(width, height) > 512 or level == 0


def test_deep_levels_show_a_tenth_of_a_millimetre(made_print: Path) -> None:
    assert Tiles().describe(made_print, "shapes").mm_per_px <= 0.05


def test_the_picture_is_the_printmakers_own(made_print: Path) -> None:
    source, picture = smallest(Tiles(), made_print, "picture")
    assert (source.levels, source.width_px, source.height_px) == (1, 160, 120)
    assert np.abs(picture.astype(int) - tiny_pixels()).mean() < 2


def test_shapes_and_proof_look_like_the_stages_pictures(made_print: Path) -> None:
    for what, file in (
        ("shapes", made_print / "out" / "design" / "shapes.png"),
        ("proof", made_print / "out" / "proof" / "proof.png"),
        ("alone-01", made_print / "out" / "separation" / "impression-01.png"),
    ):
        _, tile = smallest(Tiles(), made_print, what)
        with Image.open(file) as picture:
            size = (tile.shape[1], tile.shape[0])
            stage = np.asarray(picture.convert("RGB").resize(size, Image.Resampling.BOX), dtype=int)
        assert np.abs(tile - stage).mean() < 3, what


@pytest.mark.parametrize(
    "what", ["", "shape", "after-99", "alone-00", "under-00", "after-1", "../secret", "under", "picture-01"]
)
def test_views_that_are_none_are_refused_in_one_sentence(made_print: Path, what: str) -> None:
    with pytest.raises(TileError, match=r"^There is no [^\n]*\.$"):
        Tiles().describe(made_print, what)
    with pytest.raises(LookupError):
        Tiles().tile(made_print, what, 0, 0, 0, Tiles().describe(made_print, "shapes").version)


@pytest.mark.parametrize("place", [(99, 0, 0), (-1, 0, 0), (0, 1, 0), (0, 0, 1), (0, -1, 0)])
@pytest.mark.parametrize("what", ["picture", "shapes"])
def test_tiles_that_are_none_are_refused(made_print: Path, what: str, place: tuple[int, int, int]) -> None:
    tiles = Tiles()
    version = tiles.describe(made_print, what).version
    with pytest.raises(TileError, match=r"^There is no (tile|level)"):
        tiles.tile(made_print, what, *place, version)


@pytest.mark.parametrize("version", ["", "0" * 16, "../../..", "/etc"])
@pytest.mark.parametrize("what", ["picture", "shapes"])
def test_a_version_that_never_was_is_refused(made_print: Path, what: str, version: str) -> None:
    with pytest.raises(TileError, match="changed since"):
        Tiles().tile(made_print, what, 0, 0, 0, version)


def test_a_print_of_which_nothing_is_made_has_a_picture_only(new_print: Path) -> None:
    tiles = Tiles()
    assert smallest(tiles, new_print, "picture")[1].shape == (120, 160, 3)
    with pytest.raises(TileError, match="not made yet"):
        tiles.describe(new_print, "shapes")
    project.make(new_print, upto="design")
    assert smallest(tiles, new_print, "shapes")[1].shape[2] == 3
    with pytest.raises(TileError, match="impressions of this print are not made yet"):
        tiles.describe(new_print, "after-01")


def test_a_change_of_the_print_changes_the_version_and_the_old_one_stays_for_a_while(
    made_print: Path,
) -> None:
    tiles = Tiles()
    before, picture_before = smallest(tiles, made_print, "shapes")
    picture = tiles.describe(made_print, "picture").version
    decide(made_print, end=f'[[design.recolour]]\nat = [{IN_BLUE[0]}, {IN_BLUE[1]}]\nto = "#228833"')
    project.make(made_print, upto="design")
    after, picture_after = smallest(tiles, made_print, "shapes")
    assert after.version != before.version
    assert np.abs(picture_after.astype(int) - picture_before).max() > 40
    again = opened(tiles.tile(made_print, "shapes", 1, 0, 0, before.version))
    assert (np.abs(again.astype(int) - (0x22, 0x88, 0x33)).max(axis=2) > 20).all()
    assert tiles.describe(made_print, "picture").version == picture
    with pytest.raises(TileError, match="changed since"):
        Tiles().tile(made_print, "shapes", 0, 0, 0, before.version)


def test_another_picture_is_cut_up_anew_and_the_old_tiles_go(made_print: Path) -> None:
    tiles = Tiles()
    before = tiles.describe(made_print, "picture")
    name = next(path for path in made_print.glob("design.*"))
    Image.fromarray(tiny_pixels()[:, ::-1].copy()).save(name, "PNG")
    after, picture = smallest(tiles, made_print, "picture")
    assert after.version != before.version
    assert np.abs(picture.astype(int) - tiny_pixels()[:, ::-1]).mean() < 2
    with pytest.raises(TileError, match=r"cut up again|changed since"):
        tiles.tile(made_print, "picture", 0, 0, 0, before.version)


def test_results_that_are_deleted_meanwhile_are_no_disaster(made_print: Path) -> None:
    tiles = Tiles()
    version = tiles.describe(made_print, "picture").version
    shutil.rmtree(made_print / "out")
    with pytest.raises(TileError, match="cut up again"):
        tiles.tile(made_print, "picture", 0, 0, 0, version)
    assert smallest(tiles, made_print, "picture")[0].version == version


def test_a_stage_that_is_not_what_its_note_says_is_not_shown(made_print: Path) -> None:
    note = made_print / "out" / "design" / ".made.json"
    told = json.loads(note.read_text(encoding="utf-8"))
    told["sha256"]["value.json"] = "0" * 64
    note.write_text(json.dumps(told), encoding="utf-8")
    with pytest.raises(TileError, match="made anew"):
        Tiles().describe(made_print, "shapes")


def test_a_folder_that_is_gone_is_an_error_in_one_sentence(tmp_path: Path) -> None:
    for what in ("picture", "shapes"):
        with pytest.raises(BlockwrightError):
            Tiles().describe(tmp_path / "gone", what)


def test_many_threads_get_the_same_tiles_as_one(made_print: Path) -> None:
    one, many = Tiles(), Tiles()
    source = one.describe(made_print, "proof")
    level, halvings = source.levels - 1, 0
    places = [
        (what, level, column, row, one.describe(made_print, what).version)
        for what in ("shapes", "proof", "under-01")
        for column in range(-(-source.width_px >> halvings) // 512)
        for row in range(-(-source.height_px >> halvings) // 512)
    ]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda place: many.tile(made_print, *place), places))
    assert found == [one.tile(made_print, *place) for place in places]


def test_the_lightest_used_go_first_when_there_is_too_much() -> None:
    kept: Recent[str, bytes] = Recent(10, len)
    kept.put("a", b"1234")
    kept.put("b", b"1234")
    assert kept.get("a") == b"1234"
    kept.put("c", b"1234")
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (b"1234", None, b"1234")
    assert kept.weight == 8
    kept.put("a", b"12")
    assert kept.weight == 6


def test_a_rest_forgets_all_but_the_print_looked_at_last_and_the_same_tiles_come_back(
    made_print: Path,
) -> None:
    tiles = Tiles()
    source = tiles.describe(made_print, "proof")
    before = tiles.tile(made_print, "proof", 0, 0, 0, source.version)
    decide(made_print, end=f'[[design.recolour]]\nat = [{IN_BLUE[0]}, {IN_BLUE[1]}]\nto = "#228833"')
    project.make(made_print, upto="inks")
    later = tiles.describe(made_print, "proof")
    tiles.rest()
    assert tiles._painted.weight == 0
    assert tiles.describe(made_print, "proof") == later
    with pytest.raises(TileError):
        tiles.tile(made_print, "proof", 0, 0, 0, source.version)
    assert tiles.tile(made_print, "proof", 0, 0, 0, later.version) != before


def test_the_compiled_parts_can_be_loaded_ahead() -> None:
    Tiles.warm()


def test_a_print_that_is_only_sketched_has_its_sheets_already(new_print: Path) -> None:
    project.sketch(new_print)
    assert not (new_print / "out" / "separation").exists()
    tiles = Tiles()
    _, sheet = smallest(tiles, new_print, "under-01")
    assert len(np.unique(sheet.reshape(-1, 3), axis=0)) > 10


def test_sheets_are_shown_as_wanted_until_their_inks_are_found(made_print: Path) -> None:
    """An edit makes other impressions first and other inks after; meanwhile no sheet is missing."""
    tiles = Tiles()
    found = tiles.describe(made_print, "after-02")
    with_inks = tiles.tile(made_print, "after-02", 0, 0, 0, found.version)
    shutil.rmtree(made_print / "out" / "inks")
    wanted = tiles.describe(made_print, "after-02")
    assert wanted.version != found.version
    # This print's inks are taken as mixed to match, so that both look alike.
    assert tiles.tile(made_print, "after-02", 0, 0, 0, wanted.version) == with_inks
    # Tiles from before are still there for a page that asks late.
    assert Tiles.tile(tiles, made_print, "after-01", 0, 0, 0, found.version)


RECOLOUR = f'[[design.recolour]]\nat = [{IN_BLUE[0]}, {IN_BLUE[1]}]\nto = "#228833"'
SHEETS = ("proof", "after-02", "alone-01", "under-01")


def test_no_sheet_is_drawn_anew_for_a_recolour_until_its_impressions_are_there(made_print: Path) -> None:
    tiles = Tiles()
    before = {what: smallest(tiles, made_print, what) for what in ("shapes", *SHEETS)}
    decide(made_print, end=RECOLOUR)
    project.make(made_print, upto="design")
    assert tiles.describe(made_print, "shapes").version != before["shapes"][0].version
    for what in SHEETS:
        source, picture = smallest(tiles, made_print, what)
        assert source == before[what][0], what
        # Nor does it look otherwise to one that never saw the print before.
        anew = smallest(Tiles(), made_print, what)
        assert (anew[0], anew[1].tolist()) == (source, picture.tolist()), what
    shapes = tiles.describe(made_print, "shapes")
    project.make(made_print, upto="inks")
    assert tiles.describe(made_print, "shapes") == shapes
    for what in ("proof", "after-02", "under-01"):
        assert tiles.describe(made_print, what).version != before[what][0].version, what


def test_the_inks_of_earlier_impressions_are_never_shown_on_later_ones(made_print: Path) -> None:
    mix_from_the_shelf(made_print)
    tiles = Tiles()
    before = smallest(tiles, made_print, "proof")
    decide(made_print, end=RECOLOUR)
    project.make(made_print, upto="separation")
    between = smallest(tiles, made_print, "proof")
    assert between[0].version != before[0].version
    shutil.move(made_print / "out" / "inks", made_print / "inks")
    as_wanted = smallest(Tiles(), made_print, "proof")
    assert between[1].tolist() == as_wanted[1].tolist()
    shutil.move(made_print / "inks", made_print / "out" / "inks")
    project.make(made_print, upto="inks")
    after = smallest(tiles, made_print, "proof")
    assert len({each[0].version for each in (before, between, after)}) == 3
    assert before[1].tolist() != between[1].tolist() != after[1].tolist()


def test_a_change_of_the_paper_is_seen_on_every_sheet_at_once(made_print: Path) -> None:
    tiles = Tiles()
    before = {what: tiles.describe(made_print, what).version for what in SHEETS}
    path = made_print / "print.toml"
    path.write_text(path.read_text("utf-8").replace('"#f6efdf"', '"#f0e0d0"'), encoding="utf-8")
    project.make(made_print, upto="design")
    assert all(tiles.describe(made_print, what).version != before[what] for what in SHEETS)
