"""A look at a print folder: what is fresh, what was computed ahead, what is from before, what is wrong."""

import shutil
from pathlib import Path

import pytest

from blockwright import project
from blockwright.looking import STAGES, look
from tiny_print import IN_BLUE, decide, set_value, tree_hashes


def states(folder: Path) -> list[str]:
    seen = look(folder)
    return [seen.stage(name).state for name in STAGES]


def test_a_new_print_has_nothing_yet(new_print: Path) -> None:
    seen = look(new_print)
    assert states(new_print) == ["missing"] * 6
    assert (seen.next_step, seen.wrong, seen.packet, seen.findings) == ("shapes", None, None, ())


def test_a_made_print_is_fresh(made_print: Path) -> None:
    seen = look(made_print)
    assert states(made_print) == ["fresh"] * 6
    assert (seen.next_step, seen.packet_fresh) == ("done", True)
    (made_print / "out" / "design" / "foreign.png").write_bytes(b"not ours")
    design = look(made_print).stage("design")
    assert set(design.files) == {"picture.png", "shapes.png", "shapes.svg"}
    assert design.told is not None
    assert design.told["figures"]["coverage_valid"] is True


def test_looking_changes_nothing(made_print: Path) -> None:
    before = tree_hashes(made_print)
    look(made_print)
    assert tree_hashes(made_print) == before


@pytest.mark.parametrize(
    ("name", "value", "stale"),
    [("trap_mm", "1.0", 5), ("dpi", "100", 1), ("arm_mm", "12.0", 2), ("sheets", "90", 2)],
)
def test_a_change_is_seen_at_once(made_print: Path, name: str, value: str, stale: int) -> None:
    set_value(made_print, name, value)
    assert states(made_print).count("stale") == stale
    assert not look(made_print).packet_fresh
    project.make(made_print)
    assert states(made_print) == ["fresh"] * 6


def test_a_sketch_tells_what_a_run_would(new_print: Path) -> None:
    project.sketch(new_print)
    assert states(new_print) == ["sketch"] * 6
    sketched = {name: look(new_print).stage(name) for name in STAGES}
    small = look(new_print).small_proofs
    assert small is not None
    assert len(list(small.glob("small-*.jpg"))) == 1 + len(sketched["separation"].told["impressions"])  # type: ignore[index]
    made = project.make(new_print)
    assert made.packet is not None
    for name in STAGES:
        seen = look(new_print).stage(name)
        assert (seen.state, seen.told, seen.version) == (
            "fresh",
            sketched[name].told,
            sketched[name].version,
        )


def test_a_sketch_leaves_the_same_bytes(made_print: Path) -> None:
    """What was computed ahead serves the run as if it had computed it."""
    before = tree_hashes(made_print)
    shutil.rmtree(made_print / "out")
    project.sketch(made_print)
    project.make(made_print)
    shutil.rmtree(made_print / "out" / ".sketch")
    assert tree_hashes(made_print) == before


def test_a_value_is_computed_once(made_print: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sketch takes over what the run left, and the run what the sketch left."""

    def never(*_: object, **__: object) -> None:
        raise AssertionError

    monkeypatch.setattr("blockwright.separation.separate", never)
    monkeypatch.setattr("blockwright.design.finish_design", never)
    assert [kept.fresh for kept in project.sketch(made_print)] == [False] * 6
    shutil.rmtree(made_print / "out" / "separation")
    project.make(made_print)
    assert states(made_print) == ["fresh"] * 6


def test_a_damaged_sketch_is_not_gone_on_from(made_print: Path) -> None:
    project.sketch(made_print)
    before = tree_hashes(made_print / "out" / "separation")
    value = made_print / "out" / ".sketch" / "separation" / "value.json"
    value.write_bytes(value.read_bytes()[:-5])
    shutil.rmtree(made_print / "out" / "separation")
    project.make(made_print)
    assert tree_hashes(made_print / "out" / "separation") == before


def test_a_hand_edit_does_not_trace_again(made_print: Path) -> None:
    said: list[str] = []
    decide(made_print, end=f'[[design.recolour]]\nat = [{IN_BLUE[0]}, {IN_BLUE[1]}]\nto = "#aa2020"')
    assert states(made_print)[0] == "stale"
    project.make(made_print, say=said.append)
    assert "tracing: nothing changed" in said
    assert "#aa2020" in str(look(made_print).stage("design").told)


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (lambda folder: (folder / "print.toml").unlink(), "no print folder"),
        (lambda folder: (folder / "print.toml").write_text("width = [", encoding="utf-8"), "cannot be read"),
        (lambda folder: (folder / "design.png").unlink(), "design.png"),
        (shutil.rmtree, "There is no folder"),
        (lambda folder: set_value(folder, "trap_mm", '"wide"'), "trap_mm"),
    ],
)
def test_what_is_wrong_is_one_sentence(made_print: Path, harm: object, words: str) -> None:
    harm(made_print)  # type: ignore[operator]
    seen = look(made_print)
    assert seen.wrong is not None
    assert words in seen.wrong
    assert "\n" not in seen.wrong


def test_a_shelf_that_cannot_be_read_is_told_and_the_rest_is_seen(
    made_print: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "studio.db").write_bytes(b"words, and no database. " * 80)
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path))
    seen = look(made_print)
    assert seen.wrong is not None
    assert "studio.db is damaged" in seen.wrong
    assert "picture" not in seen.wrong
    assert [seen.stage(name).state for name in ("design", "separation", "inks")] == [
        "fresh",
        "fresh",
        "stale",
    ]


def test_notes_that_tell_nothing_are_no_hindrance(made_print: Path) -> None:
    for name, text in (("design", "[]"), ("separation", "{"), ("blocks", '{"key": 3}')):
        (made_print / "out" / name / ".made.json").write_text(text, encoding="utf-8")
    (made_print / "out" / "proof" / "proof.json").write_text("no", encoding="utf-8")
    assert states(made_print)[0] == "stale"
