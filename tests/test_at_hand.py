"""What is at hand for every print: the starter set, then the studio's own shelf."""

from pathlib import Path

import pytest

from blockwright import studio
from blockwright.colour.pigments import starter_pigments
from blockwright.model.errors import StudioError
from blockwright.model.inks import Part
from blockwright.shelf import at_hand


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path))


def test_without_a_database_it_is_the_starter_set_and_nothing_is_made(tmp_path: Path) -> None:
    assert [each.name for each in at_hand().pigments] == sorted(each.name for each in starter_pigments())
    assert at_hand().inks == ()
    assert list(tmp_path.iterdir()) == []


def test_a_new_database_changes_nothing_for_prints() -> None:
    before = at_hand()
    studio.open_studio()
    assert [each.name for each in at_hand().pigments] == [each.name for each in before.pigments]
    assert at_hand().pigments == before.pigments


def test_what_changes_on_the_shelf_is_seen_at_once() -> None:
    opened = studio.open_studio()
    ink = studio.add_recipe(opened, "rust", [Part("Indian red", 0.4)], pot_g=30.0)
    assert [each.number for each in at_hand().inks] == [ink.number]
    studio.weigh(opened, ink.number, 12.5)
    assert at_hand().inks[0].pot_g == 12.5
    studio.edit_ink(opened, ink.number, retired=True)
    assert at_hand().inks == ()
    studio.edit_pigment(opened, "Indian red", on_shelf=False)
    assert "Indian red" not in {each.name for each in at_hand().pigments}


def test_a_damaged_database_is_told(tmp_path: Path) -> None:
    (tmp_path / "studio.db").write_bytes(b"no database at all, only words" * 40)
    with pytest.raises(StudioError, match=r"studio\.db"):
        at_hand()
