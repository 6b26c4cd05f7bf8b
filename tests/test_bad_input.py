"""Bad input, through the command line: one plain sentence, exit code 2, and nothing that stood is changed."""

import errno
import io
import json
import os
import random
import shutil
import signal
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

import blockwright
from blockwright.cli import run
from blockwright.decisions import FILE_NAME
from tiny_print import decide, set_value, tiny_pixels, tree_hashes, write_tiny_picture

Capture = pytest.CaptureFixture[str]


def refused(capsys: Capture, words: list[str], code: int = 2) -> str:
    """Run a command that must be refused; give the one sentence that it ends with."""
    capsys.readouterr()
    assert run(words) == code
    caught = capsys.readouterr()
    assert caught.out == "", "standard output holds results, or nothing"
    assert caught.err.endswith("\n")
    assert "Traceback" not in caught.err
    said = caught.err.splitlines()
    # Before the sentence stand only lines of progress.
    assert all(line.endswith(("...", "nothing changed")) or ": done in " in line for line in said[:-1])
    sentence = said[-1]
    assert sentence.endswith(".")
    assert len(sentence) < 400
    return sentence


# --- pictures ----------------------------------------------------------------------------------------------


def _save(path: Path, picture: Image.Image, **options: Any) -> None:
    picture.save(path, **options)


def _png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def _huge_header(path: Path) -> None:
    """A PNG of 68 bytes that says that it is 60,000 x 60,000 pixels."""
    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + _png_chunk(b"IHDR", header)
        + _png_chunk(b"IDAT", zlib.compress(b"\0"))
        + _png_chunk(b"IEND", b"")
    )


def _truncated(path: Path) -> None:
    write_tiny_picture(path)
    path.write_bytes(path.read_bytes()[:300])


def _animated(path: Path, kind: str) -> None:
    frames = [Image.fromarray(np.roll(tiny_pixels(), 5 * k, axis=1)) for k in range(3)]
    frames[0].save(path, kind, save_all=True, append_images=frames[1:], duration=100)


PICTURES: dict[str, tuple[Callable[[Path], object], str]] = {
    "truncated": (_truncated, "damaged or not complete"),
    "zero bytes": (lambda p: p.write_bytes(b""), "empty"),
    "absurdly large": (_huge_header, "pixels"),
    "a text": (lambda p: p.write_text("not a picture"), "holds text, not a picture"),
    "a PDF": (lambda p: p.write_bytes(b"%PDF-1.7\n%%EOF"), "PNG"),
    "noise": (lambda p: p.write_bytes(random.Random(1).randbytes(5000)), "PNG"),
    "CMYK JPEG": (lambda p: _save(p, Image.new("CMYK", (64, 64), (9, 99, 9, 9)), format="JPEG"), "CMYK"),
    "CMYK TIFF": (lambda p: _save(p, Image.new("CMYK", (64, 64), (9, 99, 9, 9)), format="TIFF"), "CMYK"),
    "animated PNG": (lambda p: _animated(p, "PNG"), "animat"),
    "animated WebP": (lambda p: _animated(p, "WebP"), "animat"),
    "animated GIF": (lambda p: _animated(p, "GIF"), "GIF"),
    "one colour": (
        lambda p: _save(p, Image.new("RGB", (64, 64), "#b4935a"), format="PNG"),
        "only one colour",
    ),
    "1 x 1": (lambda p: _save(p, Image.new("RGB", (1, 1), "red"), format="PNG"), "too small, 1 x 1"),
    "all transparent": (
        lambda p: _save(p, Image.new("RGBA", (64, 64), (9, 9, 9, 0)), format="PNG"),
        "transparent",
    ),
    "a folder": (lambda p: p.mkdir(), "folder"),
}


@pytest.mark.parametrize("case", PICTURES)
def test_a_bad_picture_makes_no_print(tmp_path: Path, capsys: Capture, case: str) -> None:
    write, word = PICTURES[case]
    write(tmp_path / "painted.png")
    before = tree_hashes(tmp_path)
    sentence = refused(
        capsys, ["new", str(tmp_path / "new"), "--picture", str(tmp_path / "painted.png"), "--width", "60"]
    )
    assert "painted.png" in sentence
    assert word in sentence
    assert tree_hashes(tmp_path) == before


@pytest.mark.parametrize("case", PICTURES)
def test_a_picture_that_went_bad_leaves_the_results(made_print: Path, capsys: Capture, case: str) -> None:
    write, _ = PICTURES[case]
    (made_print / "design.png").unlink()
    write(made_print / "design.png")
    before = tree_hashes(made_print)
    for words in (["make", str(made_print)], ["check", str(made_print), "--json"]):
        assert "design.png" in refused(capsys, words)
        assert tree_hashes(made_print) == before


# --- print.toml --------------------------------------------------------------------------------------------

DECISIONS: dict[str, tuple[str, str, str]] = {
    "misspelt setting": ("trap_mm = 0.5", "trop_mm = 0.5", "trop_mm; perhaps trap_mm is meant"),
    "wrong unit": ("width_mm = 60.0", "width_cm = 6.0", "width_cm; perhaps width_mm is meant"),
    "unit behind": ("width_mm = 60.0", "width_mm = 60 mm", '"width_mm = 60 mm'),
    "negative size": ("width_mm = 60.0", "width_mm = -60.0", "width_mm is -60.0; it must be 20 to 3000 mm"),
    "no such method": (
        'method = "hand"',
        'method = "laser"',
        '"laser"; it must be "hand", "stencil" or "router"',
    ),
    "picture missing": ('"design.png"', '"sketch.png"', "'sketch.png', but"),
    "picture outside": ('"design.png"', '"../design.png"', "it must be a file in the print folder"),
    "picture absolute": ('"design.png"', '"/design.png"', "it must be a file in the print folder"),
    "picture above": ('"design.png"', '".."', "'..'"),
    "picture is out": ('"design.png"', '"out"', "'out'"),
    "picture is itself": ('"design.png"', '"print.toml"', "The picture print.toml"),
    "picture with an endless name": ('"design.png"', f'"{"ä" * 200}"', "ä"),
    "bracket open": ("order = []", "order = [", "cannot be read"),
}


@pytest.mark.parametrize("case", DECISIONS)
def test_a_bad_decision_leaves_the_results(made_print: Path, capsys: Capture, case: str) -> None:
    good, bad, words = DECISIONS[case]
    path = made_print / FILE_NAME
    text = path.read_text(encoding="utf-8")
    assert good in text
    path.write_text(text.replace(good, bad, 1), encoding="utf-8")
    before = tree_hashes(made_print)
    assert words in refused(capsys, ["make", str(made_print)])
    assert refused(capsys, ["check", str(made_print), "--json"])
    assert tree_hashes(made_print) == before


@pytest.mark.parametrize("data", [b"", b"\xff\xfe[\x00p\x00", b"\x00" * 100, b"#" * 2_000_001], ids=len)
def test_a_print_toml_that_is_none_is_told(made_print: Path, capsys: Capture, data: bytes) -> None:
    (made_print / FILE_NAME).write_bytes(data)
    before = tree_hashes(made_print)
    assert FILE_NAME in refused(capsys, ["make", str(made_print)])
    assert tree_hashes(made_print) == before


# --- folders and words -------------------------------------------------------------------------------------


def test_folders_that_are_none_are_told(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "file").touch()
    (tmp_path / "empty").mkdir()
    before = tree_hashes(tmp_path)
    for command in ("make", "check"):
        assert "is a file, not a print folder" in refused(capsys, [command, str(tmp_path / "file")])
        assert "it has no print.toml" in refused(capsys, [command, str(tmp_path / "empty")])
        assert "There is no folder" in refused(capsys, [command, str(tmp_path / "gone")])
        assert "File name too long" in refused(capsys, [command, "x" * 270])
        assert "There is no folder two lines" in refused(capsys, [command, "two\nlines"])
    assert tree_hashes(tmp_path) == before


def test_a_place_that_is_taken_is_left_alone(made_print: Path, tiny_picture: Path, capsys: Capture) -> None:
    before = tree_hashes(made_print)
    new = ["new", str(made_print), "--picture", str(tiny_picture), "--width", "60"]
    assert "already there and not empty" in refused(capsys, new)
    assert "already there and not empty" in refused(capsys, ["demo", str(made_print / "out")])
    assert "cannot be made (Not a directory)" in refused(
        capsys, ["new", str(made_print / "design.png" / "x"), *new[2:]]
    )
    assert tree_hashes(made_print) == before


def test_an_out_that_is_a_file_is_left_alone(new_print: Path, capsys: Capture) -> None:
    (new_print / "out").write_text("mine", encoding="utf-8")
    before = tree_hashes(new_print)
    assert "out is a file" in refused(capsys, ["make", str(new_print)])
    assert tree_hashes(new_print) == before


WORDS = {
    "unknown command": (["carve"], "No such command 'carve'"),
    "misspelt command": (["mkae", "x"], "No such command 'mkae', perhaps 'make'"),
    "unknown stage": (["make", "FOLDER", "--upto", "carving"], "no stage 'carving'; the stages are design,"),
    "no folder": (["make"], "Missing argument 'FOLDER'"),
    "no picture": (["new", "x"], "Missing option '--picture'"),
    "unknown option": (["check", "FOLDER", "--loud"], "No such option: --loud"),
    "option without its word": (["make", "FOLDER", "--upto"], "'--upto' requires an argument"),
    "too many words": (["check", "FOLDER", "x"], "unexpected extra argument"),
    "width with a unit": (
        ["new", "x", "--picture", "p.png", "--width", "36cm"],
        "--width is 36cm; it must be",
    ),
    "no width": (["new", "x", "--picture", "p.png", "--width", "nan"], "--width is nan; it must be from 20"),
    "negative width": (
        ["new", "x", "--picture", "p.png", "--width", "-5"],
        "--width is -5; it must be from 20",
    ),
    "a picture that is not there": (["new", "x", "--picture", "p.png"], "The picture p.png is not there"),
}


@pytest.mark.parametrize("case", WORDS)
def test_wrong_words_are_told(
    made_print: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, case: str
) -> None:
    words, expected = WORDS[case]
    monkeypatch.chdir(made_print.parent)
    before = tree_hashes(made_print.parent)
    assert expected in refused(capsys, [made_print.name if word == "FOLDER" else word for word in words])
    assert tree_hashes(made_print.parent) == before


# --- while it works ----------------------------------------------------------------------------------------

_FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _raise(error: BaseException) -> Callable[..., Any]:
    def work(*_: Any, **__: Any) -> Any:
        raise error

    return work


WRITERS = {
    "blockwright.documents.pictures.write_shapes_svg": "design",
    "blockwright.separation.separate": "separation",
    "blockwright.documents.draw_face_png": "blocks",
    "blockwright.documents.write_face_dxf": "cutting",
    "blockwright.proof.prove": "proof",
    "blockwright.documents.write_packet": "packet.pdf",
}
"""A function in the middle of each stage."""


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (_FULL, 2, "No space left on device"),
        (KeyboardInterrupt(), 130, "Stopped. Stages that were finished are kept."),
        (
            SystemError("CPUDispatcher(descend) returned a result with an exception set"),
            130,
            "Stopped. Stages that were finished are kept.",
        ),
        (MemoryError(), 2, "not enough memory"),
    ],
    ids=["full disk", "interrupted", "interrupted in a loop", "no memory"],
)
@pytest.mark.parametrize("where", WRITERS)
def test_a_stage_that_breaks_off_leaves_what_was_there(
    made_print: Path,
    capsys: Capture,
    monkeypatch: pytest.MonkeyPatch,
    where: str,
    error: BaseException,
    code: int,
    words: str,
) -> None:
    stage = WRITERS[where]
    # Without its note a stage is made again with all its documents.
    name = "packet.pdf" if stage == "packet.pdf" else f"{stage}/.made.json"
    damaged = made_print / "out" / name
    damaged.write_bytes(damaged.read_bytes()[:-3])
    before = tree_hashes(made_print)
    with monkeypatch.context() as patch:
        patch.setattr(where, _raise(error))
        assert words in refused(capsys, ["make", str(made_print), "--json"], code)
    assert tree_hashes(made_print) == before


def test_a_disk_that_is_full_for_the_decisions_leaves_them(
    made_print: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = tree_hashes(made_print)
    monkeypatch.setattr("os.fsync", _raise(_FULL))
    assert "No space left" in refused(capsys, ["make", str(made_print), "--lock-palette"])
    after = tree_hashes(made_print)
    assert {name: each for name, each in after.items() if not name.startswith(".decisions")} == before


def test_a_second_run_is_told(made_print: Path, capsys: Capture) -> None:
    from blockwright.folder import OutFolder

    before = tree_hashes(made_print)
    with OutFolder(made_print, print).alone():
        assert "Another run is at work" in refused(capsys, ["make", str(made_print)])
    assert tree_hashes(made_print) == before


# --- as a program of its own -------------------------------------------------------------------------------

_PROGRAM = "from blockwright.cli import main; main()"


def _program(*words: str, code: str = _PROGRAM, **options: Any) -> "subprocess.CompletedProcess[bytes]":
    source = str(Path(blockwright.__file__).parents[1])
    return subprocess.run(
        [sys.executable, "-c", code, *words],
        env={**os.environ, "PYTHONPATH": source},
        check=False,
        capture_output="stdout" not in options,
        **options,
    )


def _one_sentence(done: "subprocess.CompletedProcess[bytes]") -> str:
    assert b"Traceback" not in done.stderr
    assert not done.stdout
    return done.stderr.decode().splitlines()[-1]


def test_the_program_refuses_in_one_sentence(tmp_path: Path) -> None:
    done = _program("make", str(tmp_path))
    assert done.returncode == 2
    assert _one_sentence(done).endswith("make one with: blockwright new.")


def test_the_program_refuses_a_bad_picture(tmp_path: Path) -> None:
    _truncated(tmp_path / "a.png")
    done = _program(
        "new", str(tmp_path / "new"), "--picture", str(tmp_path / "a.png"), "--width", "60", "--json"
    )
    assert done.returncode == 2
    assert _one_sentence(done) == (
        "The picture a.png is damaged or not complete; save it again or take another copy."
    )
    assert not (tmp_path / "new").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_the_program_can_be_interrupted(made_print: Path) -> None:
    (made_print / "out" / "separation" / "value.json").write_bytes(b"")
    before = tree_hashes(made_print)
    stop = "import os, signal, blockwright.separation as room\n"
    stop += "room.separate = lambda *_, **_more: os.kill(os.getpid(), signal.SIGINT)\n"
    done = _program("make", str(made_print), code=stop + _PROGRAM)
    assert done.returncode == 128 + signal.SIGINT
    assert _one_sentence(done) == "Stopped. Stages that were finished are kept."
    assert tree_hashes(made_print) == before


@pytest.mark.skipif(sys.platform == "win32", reason="file names are bytes elsewhere only")
def test_names_that_are_no_text_are_borne(tmp_path: Path, tiny_picture: Path, capsys: Capture) -> None:
    """A folder and a picture whose names are Latin-1, as from an old disk."""
    strange = os.fsdecode(os.fsencode(tmp_path) + b"/M\xfchle")
    shutil.copyfile(tiny_picture, strange + ".png")
    assert run(["new", strange, "--picture", strange + ".png", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["folder"], told["title"]) == (strange, "Mhle")
    assert run(["make", strange, "--upto", "design"]) == 0
    assert run(["new", strange + "2", "--picture", strange + ".png"]) == 0
    assert "M\\udcfchle2 is ready" in capsys.readouterr().out
    assert "already there and not empty" in refused(capsys, ["new", strange, "--picture", strange + ".png"])


@pytest.mark.skipif(sys.platform == "win32", reason="pipes")
def test_a_reader_that_has_heard_enough_is_no_fault(made_print: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = _program("check", str(made_print), stdout=writing, stderr=subprocess.PIPE)
    os.close(writing)
    assert done.returncode == 0
    assert b"Broken pipe" not in done.stderr
    assert b"Traceback" not in done.stderr


# --- corruption --------------------------------------------------------------------------------------------


def _corrupt(data: bytes, chance: random.Random) -> bytes:
    damaged = bytearray(data)
    match chance.randrange(5):
        case 0:
            pass
        case 1:
            for _ in range(chance.randint(1, 6)):
                damaged[chance.randrange(len(damaged))] = chance.randrange(256)
        case 2:
            del damaged[chance.randrange(len(damaged)) :]
        case 3:
            at = chance.randrange(len(damaged))
            damaged[at : at + chance.randint(0, 40)] = chance.randbytes(chance.randint(0, 40))
        case _:
            start = chance.randrange(len(damaged))
            del damaged[start : start + chance.randint(1, 60)]
    return bytes(damaged)


def _saved_as(kind: str) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(tiny_pixels()[:60, :80]).save(buffer, kind)
    return buffer.getvalue()


def test_any_damage_ends_with_a_result_or_a_sentence(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """60 prints whose picture and decisions are damaged at random: never anything but 0, 1 or 2."""
    monkeypatch.setattr("blockwright.steps._FACE_PIXELS", 60)
    chance = random.Random(7_001)
    pictures = [_saved_as(kind) for kind in ("PNG", "JPEG", "TIFF", "WebP", "BMP")]
    folder = tmp_path / "tiny"
    write_tiny_picture(tmp_path / "painted.png")
    assert run(["new", str(folder), "--picture", str(tmp_path / "painted.png")]) == 0
    set_value(folder, "dpi", "40")
    decide(folder, design="colours = 2", end="[[design.drop]]\nat = [14.0, 38.0]")
    text = (folder / FILE_NAME).read_bytes()
    seen = {0: 0, 1: 0, 2: 0}
    for case in range(60):
        (folder / FILE_NAME).write_bytes(text if case % 3 else _corrupt(text, chance))
        (folder / "design.png").write_bytes(_corrupt(pictures[case % 5], chance))
        capsys.readouterr()
        code = run(["check", str(folder)])
        seen[code] += 1
        caught = capsys.readouterr()
        assert "Traceback" not in caught.err
        if code == 2:
            assert caught.out == ""
            assert caught.err.splitlines()[-1].endswith(".")
    assert seen[0] + seen[1] >= 9, "some damage does not matter"
    assert seen[2] >= 21


def test_ctrl_c_while_the_program_loads_is_a_sentence() -> None:
    """Loading takes most of a second; an interrupt in it comes out of the import."""
    stopped = (
        "import builtins, sys\n"
        "load = builtins.__import__\n"
        "def interrupted(name, *rest):\n"
        "    if name == 'blockwright.cli':\n"
        "        raise KeyboardInterrupt\n"
        "    return load(name, *rest)\n"
        "from blockwright.start import main\n"
        "builtins.__import__ = interrupted\n"
        "main()\n"
    )
    ended = subprocess.run([sys.executable, "-c", stopped], capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stdout) == (130, "")
    assert ended.stderr == "Stopped before anything was done.\n"
