"""``out/``: whole or not at all, made again when anything is amiss, and never by two at once."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

import blockwright
from blockwright.folder import (
    Document,
    FileStep,
    OutFolder,
    Step,
    as_json,
    create_folder,
    noted,
    quiet_say,
    require_free,
)
from blockwright.hands import Hands
from blockwright.hashing import code_version, file_hash, make_key
from blockwright.model.errors import FolderError
from blockwright.model.findings import Finding
from tiny_print import tree_hashes


@dataclass(frozen=True)
class Wood:
    """A value small enough to look at."""

    name: str
    width_mm: float


CHERRY = Wood("cherry", 300.1)
TOLD: dict[str, Any] = {
    "figures": {"boards": 1},
    "findings": [
        {
            "code": "knot",
            "severity": "note",
            "message": "A knot.",
            "at": [1.0, 2.0],
            "about": {"side": "left"},
        }
    ],
}


class Bench:
    """An out folder with one stage and one file, and a record of what was done."""

    def __init__(self, folder: Path, hands: Hands | None = None) -> None:
        self.said: list[str] = []
        self.out = OutFolder(folder, self.said.append, hands)
        self.out.path.mkdir(exist_ok=True)
        self.times_made = 0

    def step(self, key: str = "k1", value: Wood = CHERRY) -> Step[Wood]:
        def work(into: Path) -> tuple[Wood, dict[str, Any]]:
            self.times_made += 1
            (into / "drawing.svg").write_text("<svg/>", encoding="utf-8")
            return value, TOLD

        return Step("wood", Wood, key, work)

    def sheet(self, key: str = "k1", text: str = "a sheet") -> FileStep:
        def work(path: Path) -> None:
            self.times_made += 1
            path.write_text(text, encoding="utf-8")

        return FileStep("sheet.pdf", key, work)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    made = Bench(tmp_path)
    with made.out.alone():
        pass
    return made


def test_a_stage_is_made_once(bench: Bench) -> None:
    first = bench.out.stage(bench.step())
    again = bench.out.stage(bench.step())
    assert (first.fresh, again.fresh, bench.times_made) == (False, True, 1)
    assert first.value == again.value == CHERRY
    assert first.value_hash == again.value_hash == file_hash(bench.out.path / "wood" / "value.json")
    assert again.summary == {"stage": "wood", "key": "k1", **TOLD}
    assert again.findings == (Finding("knot", "note", "A knot.", (1.0, 2.0), (("side", "left"),)),)
    assert [line.split(" in ")[0] for line in bench.said] == [
        "wood ...",
        "wood: done",
        "wood: nothing changed",
    ]


def test_findings_of_an_earlier_version_are_read(bench: Bench) -> None:
    made = bench.out.stage(bench.step())
    told = json.loads((made.folder / "wood.json").read_text(encoding="utf-8"))
    del told["findings"][0]["about"]
    (made.folder / "wood.json").write_text(json.dumps(told), encoding="utf-8")
    assert replace(made).findings == (Finding("knot", "note", "A knot.", (1.0, 2.0)),)


def test_another_key_makes_it_anew(bench: Bench) -> None:
    bench.out.stage(bench.step())
    changed = bench.out.stage(bench.step("k2", Wood("linden", 450.0)))
    assert not changed.fresh
    assert bench.out.stage(bench.step("k2")).value == Wood("linden", 450.0)


def test_a_stage_that_comes_out_the_same_keeps_its_hash(bench: Bench) -> None:
    assert bench.out.stage(bench.step("k1")).value_hash == bench.out.stage(bench.step("k2")).value_hash
    assert bench.times_made == 2


def _cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-4])


def _flip_a_bit(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


DAMAGE_OF_A_DOCUMENT: dict[str, Callable[[Path], object]] = {
    "deleted": lambda path: path.unlink(),
    "emptied": lambda path: path.write_bytes(b""),
}


def _draw_line(into: Path, *, name: str, words: str) -> None:
    (into / name).write_text(f"{words} {os.getpid()}", encoding="utf-8")


def _end_at_once(_: Path) -> None:
    os._exit(3)


def _refuse(_: Path) -> None:
    raise FolderError("There is no room for this drawing.")


def _document(name: str, key: str, *, points: int = 1) -> Document:
    return Document((name,), key, partial(_draw_line, name=name, words=key), points)


def _drawn(bench: Bench, key: str, *documents: Document) -> dict[str, str]:
    step = replace(bench.step(key), documents=lambda _: documents)
    bench.out.stage(step)
    bench.out.settle()
    folder = bench.out.path / "wood"
    assert bench.out.kept(step) is not None
    return {each.names[0]: (folder / each.names[0]).read_text(encoding="utf-8") for each in documents}


def test_a_document_that_stays_the_same_is_kept(bench: Bench) -> None:
    first = _drawn(bench, "k1", _document("a.txt", "grain"), _document("b.txt", "edge"))
    (bench.out.path / "wood" / "a.txt").write_text("as it was", encoding="utf-8")
    note = bench.out.path / "wood" / ".made.json"
    told = json.loads(note.read_text(encoding="utf-8"))
    told["sha256"]["a.txt"] = file_hash(bench.out.path / "wood" / "a.txt")
    note.write_text(json.dumps(told), encoding="utf-8")
    again = _drawn(bench, "k2", _document("a.txt", "grain"), _document("b.txt", "another edge"))
    assert again["a.txt"] == "as it was", "it has not been drawn again"
    assert first["b.txt"] != again["b.txt"]


def test_documents_in_a_folder_of_their_own_are_kept_and_noticed(bench: Bench) -> None:
    def drawn(key: str, words: str) -> str:
        (text,) = _drawn(bench, key, _document("for the shop/a.txt", words)).values()
        return text

    path = bench.out.path / "wood" / "for the shop" / "a.txt"
    first = drawn("k1", "grain")
    assert noted(bench.out.path / "wood") == ("drawing.svg", "for the shop/a.txt", "value.json", "wood.json")
    before = path.stat().st_ino
    assert drawn("k2", "grain") == first
    assert path.stat().st_ino == before, "it has not been drawn again"
    path.write_text("by another hand", encoding="utf-8")
    assert bench.out.kept(bench.step("k2")) is None
    assert drawn("k3", "grain") == first
    ahead = OutFolder(bench.out.path.parent, quiet_say, sketches=True)
    ahead.path.mkdir()
    ahead.stage(bench.step("k3"))
    assert bench.times_made == 3, "what lies in the other folder is taken over"
    assert not (ahead.path / "wood" / "for the shop").exists()


@pytest.mark.parametrize("how", DAMAGE_OF_A_DOCUMENT)
def test_a_document_that_was_damaged_is_drawn_again(bench: Bench, how: str) -> None:
    first = _drawn(bench, "k1", _document("a.txt", "grain"))
    DAMAGE_OF_A_DOCUMENT[how](bench.out.path / "wood" / "a.txt")
    assert _drawn(bench, "k2", _document("a.txt", "grain")) == first


def test_much_is_drawn_by_other_processes(tmp_path: Path) -> None:
    with Hands() as hands:
        bench = Bench(tmp_path, hands)
        documents = [_document(f"{k}.txt", "grain", points=100_000) for k in range(4)]
        drawn = _drawn(bench, "k1", *documents)
    assert not any(text.endswith(f" {os.getpid()}") for text in drawn.values())


def test_a_drawing_that_fails_costs_only_its_stage(tmp_path: Path) -> None:
    with Hands() as hands:
        bench = Bench(tmp_path, hands)
        good = replace(bench.step(), documents=lambda _: [_document("a.txt", "grain", points=100_000)])
        bad = Step("cut", Wood, "k", good.work, lambda _: [Document(("b.txt",), "k", _refuse, 100_000)])
        bench.out.stage(bad)
        bench.out.stage(good)
        with pytest.raises(FolderError, match="no room for this drawing"):
            bench.out.settle()
        assert bench.out.kept(bad) is None
        assert bench.out.kept(good) is not None
    assert not list(bench.out.path.glob(".making-*"))


def test_a_process_that_is_ended_is_told_in_a_sentence(tmp_path: Path) -> None:
    with Hands() as hands:
        bench = Bench(tmp_path, hands)
        step = replace(bench.step(), documents=lambda _: [Document(("a",), "k", _end_at_once, 100_000)])
        bench.out.stage(step)
        with pytest.raises(FolderError, match="has ended too soon"):
            bench.out.settle()


DAMAGE: dict[str, Callable[[Path], object]] = {
    "deleted": lambda path: path.unlink(),
    "emptied": lambda path: path.write_bytes(b""),
    "cut short": _cut_short,
    "one bit": _flip_a_bit,
    "no text": lambda path: path.write_bytes(b"\xff\xfe\x00"),
    "another list": lambda path: path.write_bytes(b"[1, 2]"),
    "a null": lambda path: path.write_bytes(b"null"),
    "bottomless": lambda path: path.write_bytes(b"[" * 50_000),
}


@pytest.mark.parametrize("how", DAMAGE)
@pytest.mark.parametrize("name", ["value.json", "wood.json", "drawing.svg", ".made.json"])
def test_damage_is_noticed_and_made_again(bench: Bench, name: str, how: str) -> None:
    bench.out.stage(bench.step())
    whole = tree_hashes(bench.out.path)
    DAMAGE[how](bench.out.path / "wood" / name)
    assert bench.out.kept(bench.step()) is None
    assert not bench.out.stage(bench.step()).fresh
    assert bench.times_made == 2
    assert tree_hashes(bench.out.path) == whole


@pytest.mark.parametrize(
    "text", ['{"key": "k1"}', '{"key": "k1", "sha256": {}}', '{"key": "k1", "sha256": ["a"]}']
)
def test_a_note_that_tells_nothing_is_not_believed(bench: Bench, text: str) -> None:
    bench.out.stage(bench.step())
    (bench.out.path / "wood" / ".made.json").write_text(text, encoding="utf-8")
    assert bench.out.kept(bench.step()) is None


def test_a_file_is_made_once_and_again_when_it_is_damaged(bench: Bench) -> None:
    path = bench.out.single_file(bench.sheet())
    assert bench.out.single_file(bench.sheet()) == path
    assert bench.times_made == 1
    path.write_text("a shee", encoding="utf-8")
    bench.out.single_file(bench.sheet())
    assert path.read_text(encoding="utf-8") == "a sheet"
    bench.out.single_file(bench.sheet("k2", "another sheet"))
    assert path.read_text(encoding="utf-8") == "another sheet"
    path.unlink()
    bench.out.single_file(bench.sheet("k2", "another sheet"))
    assert bench.times_made == 4
    (bench.out.path / ".sheet.pdf.json").unlink()
    assert bench.out.kept_file(bench.sheet("k2")) is None


@pytest.mark.parametrize(
    "error", [OSError(28, "No space left on device"), KeyboardInterrupt(), ValueError("x")]
)
def test_work_that_breaks_off_leaves_what_was_there(bench: Bench, error: BaseException) -> None:
    bench.out.stage(bench.step())
    bench.out.single_file(bench.sheet())
    before = tree_hashes(bench.out.path)

    def half(into: Path) -> Any:
        (into / "half.svg" if into.is_dir() else into).write_text("half", encoding="utf-8")
        raise error

    with pytest.raises(type(error)):
        bench.out.stage(Step("wood", Wood, "k2", half))
    with pytest.raises(type(error)):
        bench.out.single_file(FileStep("sheet.pdf", "k2", half))
    assert tree_hashes(bench.out.path) == before
    assert bench.out.stage(bench.step()).fresh


def test_a_change_of_places_that_fails_is_taken_back(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.out.stage(bench.step())
    before = tree_hashes(bench.out.path)
    rename = Path.rename

    def stubborn(self: Path, target: Path) -> Path:
        if self.name == ".making-wood":
            raise PermissionError(13, "Permission denied")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", stubborn)
    with pytest.raises(PermissionError):
        bench.out.stage(bench.step("k2"))
    assert tree_hashes(bench.out.path) == before


_KILLED = """
import os, signal, sys
from pathlib import Path
from blockwright.folder import OutFolder, Step

def work(into):
    (into / "half.svg").write_text("half")
    os.kill(os.getpid(), signal.SIGKILL)

out = OutFolder(Path(sys.argv[1]), print)
with out.alone():
    out.stage(Step("wood", dict, "k2", work))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_a_run_that_was_killed_leaves_no_half_stage(bench: Bench) -> None:
    bench.out.stage(bench.step())
    before = tree_hashes(bench.out.path)
    source = str(Path(blockwright.__file__).parents[1])
    killed = subprocess.run(
        [sys.executable, "-c", _KILLED, str(bench.out.path.parent)],
        env={**os.environ, "PYTHONPATH": source},
        capture_output=True,
        check=False,
    )
    assert killed.returncode == -9
    assert (bench.out.path / ".making-wood" / "half.svg").exists()
    (bench.out.path / ".old-wood").mkdir()
    (bench.out.path / ".making-sheet.pdf").touch()
    with bench.out.alone():
        assert tree_hashes(bench.out.path) == before


def test_a_second_run_is_told(bench: Bench) -> None:
    other = OutFolder(bench.out.path.parent, print)
    with bench.out.alone():
        (bench.out.path / ".making-wood").mkdir()
        with pytest.raises(FolderError, match=r"^Another run is at work in .*; wait until it has ended\.$"):
            other.alone().__enter__()
        assert (bench.out.path / ".making-wood").exists(), "the first run's work is left alone"
    with other.alone():
        pass


def test_an_out_that_is_a_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(FolderError, match=r"out is a file; results need a folder of that name\.$"):
        OutFolder(tmp_path, print).alone().__enter__()
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_a_new_folder_may_be_empty_but_not_taken(tmp_path: Path) -> None:
    assert create_folder(tmp_path / "a" / "b")
    assert not create_folder(tmp_path / "a" / "b")
    for taken in (tmp_path, tmp_path / "a"):
        with pytest.raises(FolderError, match=r"already there and not empty"):
            create_folder(taken)
    (tmp_path / "file").touch()
    with pytest.raises(FolderError, match=r"already there and not empty"):
        require_free(tmp_path / "file")
    with pytest.raises(FolderError, match=r"cannot be made \(Not a directory\)\.$"):
        create_folder(tmp_path / "file" / "inside")
    with pytest.raises(FolderError, match=r"cannot be made \(File name too long\)\.$"):
        create_folder(tmp_path / ("x" * 300))


def test_keys_tell_values_apart() -> None:
    parts: list[Any] = [1, "1", 1.5, None, True, [1, 2], [[1], 2], {"a": 1}, {"a": "1"}, "", "ä"]
    keys = [make_key(part) for part in parts] + [
        make_key(),
        make_key(1, 2),
        make_key("a", "b"),
        make_key("a,b"),
    ]
    assert len(set(keys)) == len(keys)
    assert make_key({"a": 1, "b": 2}) == make_key({"b": 2, "a": 1})


def test_json_is_readable_and_honest() -> None:
    text = as_json({"ä": 1.5, "b": [1]})
    assert json.loads(text) == {"ä": 1.5, "b": [1]}
    assert text.endswith("}\n")
    assert "ä" in text
    with pytest.raises(ValueError, match="JSON"):
        as_json({"a": float("nan")})


def test_the_code_version_follows_every_file_of_a_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = tmp_path / "room"
    (room / "inner").mkdir(parents=True)
    (room / "a.py").write_text("a = 1\n", encoding="utf-8")
    (room / "inner" / "font.otf").write_bytes(b"glyphs")
    (tmp_path / "single.py").write_text("", encoding="utf-8")
    monkeypatch.setattr("blockwright.hashing.resources.files", lambda _: tmp_path)
    code_version.cache_clear()
    seen = {code_version(("room",)), code_version(("room", "single.py"))}
    (room / "__pycache__").mkdir()
    (room / "__pycache__" / "a.pyc").write_bytes(b"compiled")
    code_version.cache_clear()
    assert code_version(("room",)) in seen
    changes: list[Callable[[], object]] = [
        lambda: (room / "a.py").write_text("a = 2\n", encoding="utf-8"),
        lambda: (room / "inner" / "font.otf").write_bytes(b"other glyphs"),
        lambda: (room / "a.py").rename(room / "b.py"),
        (room / "c.py").touch,
    ]
    for change in changes:
        change()
        code_version.cache_clear()  # as another process would see it
        version = code_version(("room",))
        assert version not in seen
        seen.add(version)
