"""The whole job on a tiny print: what is told, what is made again and what is not, and hand edits."""

import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from blockwright import project, steps
from blockwright.decisions import read_decisions
from blockwright.hashing import code_version
from blockwright.model.errors import FolderError, PictureError, SettingsError
from tiny_print import (
    BLUE,
    DARK,
    IN_BLUE,
    IN_DARK,
    IN_OCHRE,
    IN_PAPER,
    OCHRE,
    OUTSIDE,
    PAPER,
    WIDTH_MM,
    decide,
    set_value,
    tiny_pixels,
    tree_hashes,
)


def told(folder: Path, stage: str) -> dict[str, Any]:
    """``STAGE.json`` of a stage."""
    found: dict[str, Any] = json.loads((folder / "out" / stage / f"{stage}.json").read_text(encoding="utf-8"))
    return found


def made_anew(made: project.Made) -> list[str]:
    return [stage.name for stage in made.stages if not stage.fresh]


def codes(folder: Path, stage: str) -> list[str]:
    return [finding["code"] for finding in told(folder, stage)["findings"]]


def palette(folder: Path) -> dict[str, str]:
    """Names of the design's colours by their values."""
    return {colour["hex"]: colour["name"] for colour in told(folder, "design")["palette"]}


def impressions(folder: Path) -> dict[str, dict[str, Any]]:
    return {each["hex"]: each for each in told(folder, "separation")["impressions"]}


def at(place: tuple[float, float]) -> str:
    return f"at = [{place[0]}, {place[1]}]"


# --- what the folder tells ---------------------------------------------------------------------------------

NUMBER = (int, float)
WHOLE = int
FIGURES: dict[str, dict[str, Any]] = {
    "design": {
        "colours": WHOLE,
        "shapes": WHOLE,
        "width_mm": NUMBER,
        "height_mm": NUMBER,
        "coverage_valid": bool,
        "gap_mm2": NUMBER,
        "overlap_mm2": NUMBER,
        "median_delta_e00": NUMBER,
    },
    "separation": {
        "impressions": WHOLE,
        "blocks_needed": WHOLE,
        "median_delta_e00": NUMBER,
        "max_delta_e00": NUMBER,
    },
    "blocks": {
        "boards": WHOLE,
        "faces": WHOLE,
        "faces_lower_bound": WHOLE,
        "proven_fewest": bool,
        "stock_boards": WHOLE,
        "shared_faces": WHOLE,
        "full_faces": WHOLE,
        "part_blocks": WHOLE,
    },
    "cutting": {"router_min": NUMBER, "lower_bound_min": NUMBER, "gouge_mm2": NUMBER},
    "proof": {"median_delta_e00": NUMBER, "p95_delta_e00": NUMBER, "register_risk_percent": NUMBER},
}
"""The figures that other programs rely on."""

PARTS: dict[tuple[str, str], dict[str, Any]] = {
    ("separation", "impressions"): {
        "number": WHOLE,
        "name": str,
        "kind": str,
        "ink": str,
        "hex": str,
        "passes": WHOLE,
        "area_mm2": NUMBER,
        "shapes": WHOLE,
        "gradation": type(None),
    },
    ("blocks", "boards"): {"name": str, "wood": str, "width_mm": NUMBER, "height_mm": NUMBER, "faces": list},
    ("blocks", "stock_boards"): {
        "name": str,
        "stock": str,
        "width_mm": NUMBER,
        "height_mm": NUMBER,
        "blocks": list,
    },
    ("blocks", "offcuts"): {
        "name": str,
        "width_mm": NUMBER,
        "height_mm": NUMBER,
        "stock": str,
        "stock_board": str,
    },
    ("cutting", "faces"): {
        "face": str,
        "method": str,
        "files": list,
        "minutes": NUMBER,
        "gouge_mm2": NUMBER,
        "handwork_mm2": NUMBER,
        "shallow_mm2": NUMBER,
        "moves": WHOLE,
    },
    ("proof", "shapes"): {
        "at": list,
        "target_lab": list,
        "predicted_lab": list,
        "delta_e00": NUMBER,
        "uncertainty": NUMBER,
    },
}
"""The parts that other programs rely on."""

UNITS = ("_mm", "_mm2", "_min", "_s", "_g", "_ml", "_percent", "_delta_e00", "_per_mm")
COUNTS = {
    *("colours", "shapes", "impressions", "blocks_needed", "boards", "faces", "faces_lower_bound"),
    *("coverage_valid", "proven_fewest", "stock_boards", "shared_faces"),
    *("full_faces", "part_blocks"),
}


def _is(value: Any, kind: Any) -> bool:
    return isinstance(value, kind) and (kind is bool or not isinstance(value, bool))


def test_every_stage_tells_what_other_programs_rely_on(made_print: Path) -> None:
    for stage, wanted in FIGURES.items():
        figures = told(made_print, stage)["figures"]
        for name, kind in wanted.items():
            assert _is(figures[name], kind), f"{stage}: {name}"
        for name in figures:
            assert name in COUNTS or name.endswith(UNITS), f"{stage}: {name} has no unit in its name"
        assert isinstance(told(made_print, stage)["findings"], list)
        assert told(made_print, stage)["stage"] == stage
    for (stage, part), wanted in PARTS.items():
        entries = told(made_print, stage)[part]
        assert entries
        for entry in entries:
            for name, kind in wanted.items():
                assert _is(entry[name], kind), f"{stage}: {part}[].{name}"


def test_faces_tell_their_marks(made_print: Path) -> None:
    for board in told(made_print, "blocks")["boards"]:
        for face in board["faces"]:
            assert face["mirrored"] is True
            assert all(isinstance(number, int) for number in face["impressions"])
            assert {len(face["kento"][mark]) for mark in ("kagi", "hikitsuke")} == {2}


def test_findings_tell_code_severity_message_and_place(new_print: Path) -> None:
    decide(new_print, end=f"[[design.drop]]\n{at(OUTSIDE)}")
    set_value(new_print, "least_area_mm2", "900.0")
    project.make(new_print, upto="design")
    findings = told(new_print, "design")["findings"]
    assert len(findings) >= 2
    for finding in findings:
        assert set(finding) == {"code", "severity", "message", "at", "about"}
        assert finding["severity"] in {"note", "warn", "stop"}
        assert finding["message"].endswith(".")
        assert finding["at"] is None or len(finding["at"]) == 2
        assert isinstance(finding["about"], dict)


def test_the_tiny_print_is_what_was_painted(made_print: Path) -> None:
    design = told(made_print, "design")
    assert list(palette(made_print)) == [PAPER, OCHRE, BLUE, DARK]
    assert design["figures"] | {"shapes": 4, "width_mm": 60.0, "height_mm": 45.0} == design["figures"]
    assert design["figures"]["coverage_valid"] is True
    assert design["figures"]["gap_mm2"] == pytest.approx(0.0, abs=1e-6)
    assert design["figures"]["overlap_mm2"] == pytest.approx(0.0, abs=1e-6)
    # What was drawn: an upright bar of 61 x 241 thirds of a pixel, a pixel being 0.375 mm.
    bar = next(colour for colour in design["palette"] if colour["hex"] == DARK)
    assert bar["area_mm2"] == pytest.approx(61 * 241 / 9 * 0.375**2, rel=0.005)
    assert sum(colour["area_mm2"] for colour in design["palette"]) == pytest.approx(60.0 * 45.0)
    assert [each["hex"] for each in told(made_print, "separation")["impressions"]] == [OCHRE, BLUE, DARK]


def test_every_file_that_is_told_is_there_and_none_else(made_print: Path) -> None:
    out = made_print / "out"
    for face in told(made_print, "cutting")["faces"]:
        for name in face["files"]:
            assert (out / "cutting" / name).stat().st_size > 0
    listed = {name for face in told(made_print, "cutting")["faces"] for name in face["files"]}
    there = {path.name for path in (out / "cutting").iterdir()}
    assert there - listed == {"cutting.json", "value.json", ".made.json"}
    assert {p.name for p in (out / "proof").glob("*.png")} == {
        "proof.png",
        *(f"after-{k:02d}.png" for k in range(4)),
    }
    assert (out / "proof" / "proof.png").read_bytes() == (out / "proof" / "after-03.png").read_bytes()
    assert len(list((out / "blocks").glob("*.png"))) == told(made_print, "blocks")["figures"]["faces"]
    assert len(list((out / "separation").glob("*.png"))) == 3
    assert (out / "packet.pdf").read_bytes().startswith(b"%PDF-")
    assert {p.name for p in (out / "design").iterdir()} - {".made.json"} == {
        *("design.json", "value.json", "picture.png", "shapes.png", "shapes.svg")
    }
    with Image.open(out / "design" / "picture.png") as picture:
        assert np.array_equal(np.asarray(picture), tiny_pixels())
        assert picture.info["dpi"] == pytest.approx((160 / WIDTH_MM * 25.4,) * 2, abs=0.02)


# --- what is made again ------------------------------------------------------------------------------------


def test_a_second_run_makes_nothing(made_print: Path) -> None:
    before = tree_hashes(made_print)
    said: list[str] = []
    made = project.make(made_print, say=said.append)
    assert made_anew(made) == []
    assert said == [f"{name}: nothing changed" for name in ("tracing", *project.STAGES[:-1], "packet.pdf")]
    assert tree_hashes(made_print) == before
    assert made.told()["stages"]["design"]["made_anew"] is False


SETTINGS = {
    ("least_area_mm2", "300.0"): ["design", "separation", "inks", "blocks", "cutting", "proof"],
    ("trap_mm", "1.0"): ["separation", "inks", "blocks", "cutting", "proof"],
    ("paper_within_delta_e00", "3.0"): ["separation"],
    ("sheets", "90"): ["inks", "proof"],
    ("mix", '"from the shelf"'): ["inks", "proof"],
    ("rim_mm", "9.0"): ["blocks", "cutting"],
    ("arm_mm", "12.0"): ["blocks", "cutting"],
    ("overlap_mm", "14.0"): ["cutting"],
    ("paper", '"A3"'): ["cutting"],
    ("clear_reach_mm", "5.0"): ["cutting"],
    ("dpi", "100"): ["proof"],
    ("drift_mm", "0.4"): ["proof"],
}
"""A setting, another value, and the stages that it touches."""


@pytest.mark.parametrize(("name", "value"), SETTINGS)
def test_a_changed_setting_makes_only_what_depends_on_it(made_print: Path, name: str, value: str) -> None:
    said: list[str] = []
    if name == "paper":
        text = (made_print / "print.toml").read_text(encoding="utf-8")
        changed = text.replace('\npaper = "A4"', f"\npaper = {value}")
        assert changed != text
        (made_print / "print.toml").write_text(changed, encoding="utf-8")
    else:
        set_value(made_print, name, value)
    made = project.make(made_print, say=said.append)
    # A stage that comes out as it was leaves the later ones alone; so fewer may be made, never more.
    assert set(made_anew(made)) <= set(SETTINGS[name, value])
    assert made_anew(made)[0] == SETTINGS[name, value][0]
    assert said[-1].startswith("packet.pdf: done"), "the packet tells the settings"
    assert made_anew(project.make(made_print)) == []
    # Documents that were kept are those that would have been drawn.
    kept = tree_hashes(made_print)
    shutil.rmtree(made_print / "out")
    project.make(made_print)
    assert tree_hashes(made_print) == kept


def test_a_larger_trap_reaches_the_blocks(made_print: Path) -> None:
    before = impressions(made_print)[OCHRE]["area_mm2"]
    set_value(made_print, "trap_mm", "1.0")
    assert made_anew(project.make(made_print)) == ["separation", "inks", "blocks", "cutting", "proof"]
    assert impressions(made_print)[OCHRE]["area_mm2"] > before


def test_another_picture_is_noticed(made_print: Path) -> None:
    pixels = tiny_pixels().copy()
    pixels[:20] = (200, 60, 60)
    Image.fromarray(pixels).save(made_print / "design.png")
    made = project.make(made_print, upto="design")
    assert made_anew(made) == ["design"]
    assert "#c83c3c" in palette(made_print)
    assert made.outdated


def test_another_name_for_the_same_picture_changes_nothing(made_print: Path) -> None:
    (made_print / "design.png").rename(made_print / "painted.png")
    set_value(made_print, "picture", '"painted.png"')
    assert made_anew(project.make(made_print, upto="proof")) == []


def test_changed_code_makes_its_stage_again(made_print: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def other(rooms: tuple[str, ...]) -> str:
        return code_version(rooms) + ("x" if "cutting" in rooms else "")

    before = tree_hashes(made_print / "out" / "cutting")
    monkeypatch.setattr(steps, "code_version", other)
    assert made_anew(project.make(made_print)) == ["cutting"]
    after = tree_hashes(made_print / "out" / "cutting")
    assert {n for n in after if after[n] != before[n]} == {"cutting.json", ".made.json"}, (
        "only the key differs"
    )


def test_the_code_of_every_room_counts(made_print: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each stage's version covers the rooms that its work imports."""
    asked: list[tuple[str, ...]] = []

    def listen(rooms: tuple[str, ...]) -> str:
        asked.append(rooms)
        return "same"

    monkeypatch.setattr(steps, "code_version", listen)
    project.make(made_print)
    # The first is a glance at the first stage, which is of another version now.
    assert asked[0] == asked[1]
    for rooms, own in zip(asked[1:], ("design", *project.STAGES[:-1], "documents"), strict=True):
        assert {"model", "geometry", "colour", "project.py", "steps.py", "telling.py", own} <= set(rooms)
    everything = {room.split("/")[0] for rooms in asked for room in rooms}
    assert everything >= {"design", "separation", "inks", "blocks", "cutting", "proof", "documents", "data"}


def test_the_same_inputs_give_the_same_bytes(made_print: Path) -> None:
    """All of it: PDF, DXF, SVG, PNG, JSON."""
    before = tree_hashes(made_print)
    shutil.rmtree(made_print / "out")
    assert len(made_anew(project.make(made_print))) == 6
    assert tree_hashes(made_print) == before
    assert {Path(name).suffix for name in before} >= {".pdf", ".dxf", ".svg", ".png", ".json"}


@pytest.mark.parametrize("seed", ["1", "2"])
def test_another_order_of_sets_gives_the_same_bytes(made_print: Path, seed: str) -> None:
    """Python hashes text anew in every process; nothing that is written may follow the order of a set."""
    before = tree_hashes(made_print)
    shutil.rmtree(made_print / "out")
    subprocess.run(
        [sys.executable, "-c", "from blockwright.cli import main; main()", "make", str(made_print)],
        env={**os.environ, "PYTHONHASHSEED": seed},
        check=True,
        capture_output=True,
    )
    assert tree_hashes(made_print) == before


def test_a_run_in_steps_gives_the_same_bytes(made_print: Path) -> None:
    """Values that were read back from the folder serve as well as those that were just made."""
    before = tree_hashes(made_print)
    shutil.rmtree(made_print / "out")
    for stage in project.STAGES:
        project.make(made_print, upto=stage)
    assert tree_hashes(made_print) == before


@pytest.mark.parametrize(
    "name",
    ["design/value.json", "separation/value.json", "blocks/blocks.json", "cutting/A-front.dxf", "packet.pdf"],
)
def test_a_damaged_result_is_made_again(made_print: Path, name: str) -> None:
    before = tree_hashes(made_print)
    path = made_print / "out" / name
    path.write_bytes(path.read_bytes()[:100])
    project.make(made_print)
    assert tree_hashes(made_print) == before


def test_upto_stops_there(new_print: Path) -> None:
    made = project.make(new_print, upto="separation")
    assert [stage.name for stage in made.stages] == ["design", "separation"]
    assert made.packet is None
    assert not made.outdated
    assert sorted(p.name for p in (new_print / "out").iterdir()) == [
        ".busy",
        "design",
        "separation",
        "tracing",
    ]
    with pytest.raises(SettingsError, match=r"no stage 'carving'; the stages are design, separation"):
        project.make(new_print, upto="carving")


def test_what_is_left_from_before_is_told(made_print: Path) -> None:
    """A packet that hangs above a bench must not be taken for the present one."""
    assert not project.make(made_print, upto="proof").outdated
    assert not project.make(made_print, upto="design").outdated
    set_value(made_print, "trap_mm", "1.0")
    assert project.make(made_print, upto="design").outdated
    assert project.make(made_print, upto="proof").outdated, "the packet is still the old one"
    assert not project.make(made_print).outdated
    assert not project.make(made_print, upto="proof").outdated
    shutil.rmtree(made_print / "out" / "cutting")
    (made_print / "out" / "packet.pdf").unlink()
    set_value(made_print, "overlap_mm", "11.0")
    assert project.make(made_print, upto="blocks").outdated is True, (
        "the proof may be taken for the present one"
    )


# --- locking the palette -----------------------------------------------------------------------------------


def _same_results(before: dict[str, str], after: dict[str, str]) -> None:
    """All but the keys, and the packet, which tells the settings."""
    but = {".made.json", ".packet.pdf.json", "design.json", "tracing.json"}
    different = {name for name in after if after[name] != before.get(name)}
    assert {Path(name).name for name in different} <= but | {"packet.pdf"}


def test_a_locked_palette_changes_no_result(made_print: Path) -> None:
    before = tree_hashes(made_print / "out")
    project.make(made_print, lock=True)
    assert read_decisions(made_print).design.palette == (PAPER, OCHRE, BLUE, DARK)
    made = project.make(made_print)
    assert made_anew(made) == ["design"], "which comes out as before, so that the others are fresh"
    _same_results(before, tree_hashes(made_print / "out"))


def test_a_palette_is_locked_as_it_was_before_the_hand_edits(new_print: Path) -> None:
    """The edits are made again on every run: locking what they left would make them on something else."""
    decide(
        new_print,
        end=f'[[design.recolour]]\n{at(IN_BLUE)}\nto = "#aa2020"\n'
        f"[[design.merge]]\n{at(IN_DARK)}\ninto = [{IN_OCHRE[0]}, {IN_OCHRE[1]}]",
    )
    project.make(new_print, upto="separation", lock=True)
    before = tree_hashes(new_print / "out")
    assert list(palette(new_print)) == [PAPER, OCHRE, "#aa2020"]
    assert read_decisions(new_print).design.palette == (PAPER, OCHRE, BLUE, DARK)
    project.make(new_print, upto="separation")
    _same_results(before, tree_hashes(new_print / "out"))


def test_a_palette_that_was_given_stays_as_given(new_print: Path) -> None:
    decide(new_print, design=f'palette = ["{PAPER}", "{DARK}"] # mine')
    text = (new_print / "print.toml").read_bytes()
    project.make(new_print, upto="design", lock=True)
    assert (new_print / "print.toml").read_bytes() == text


# --- hand edits --------------------------------------------------------------------------------------------


def _made(folder: Path) -> Path:
    project.make(folder, upto="separation")
    return folder


def test_a_colour_is_named(new_print: Path) -> None:
    decide(new_print, end=f'[[design.name]]\n{at(IN_OCHRE)}\nname = "wet ochre"')
    assert palette(_made(new_print))[OCHRE] == "wet ochre"
    assert impressions(new_print)[OCHRE]["ink"] == "wet ochre"


def test_a_colour_is_given_another_value(new_print: Path) -> None:
    decide(new_print, end=f'[[design.recolour]]\n{at(IN_BLUE)}\nto = "#AA2020"')
    assert list(palette(_made(new_print))) == [PAPER, OCHRE, "#aa2020", DARK]
    assert list(impressions(new_print)) == [OCHRE, "#aa2020", DARK]


def test_only_the_shape_here_is_given_another_colour(new_print: Path) -> None:
    pixels = tiny_pixels().copy()
    pixels[104:118, 100:150] = pixels[60, 120]  # a second blue shape
    Image.fromarray(pixels).save(new_print / "design.png")
    whole = palette(_made(new_print))
    assert next(c for c in told(new_print, "design")["palette"] if c["hex"] == BLUE)["shapes"] == 2
    decide(new_print, end=f'[[design.recolour]]\n{at(IN_BLUE)}\nto = "#aa2020"\nhere = true')
    assert set(palette(_made(new_print))) == {*whole, "#aa2020"}
    left = {c["hex"]: c for c in told(new_print, "design")["palette"]}
    assert (left[BLUE]["shapes"], left["#aa2020"]["shapes"]) == (1, 1)
    assert left[BLUE]["area_mm2"] == pytest.approx(50 * 14 * 0.375**2, rel=0.02)


def test_a_shape_is_merged(new_print: Path) -> None:
    before = {c["hex"]: c["area_mm2"] for c in told(_made(new_print), "design")["palette"]}
    decide(new_print, end=f"[[design.merge]]\n{at(IN_BLUE)}\ninto = [{IN_OCHRE[0]}, {IN_OCHRE[1]}]")
    after = {c["hex"]: c["area_mm2"] for c in told(_made(new_print), "design")["palette"]}
    assert set(after) == {PAPER, OCHRE, DARK}
    assert after[OCHRE] == pytest.approx(before[OCHRE] + before[BLUE])
    assert told(new_print, "design")["figures"]["coverage_valid"] is True
    assert told(new_print, "design")["figures"]["shapes"] == 3, "the two are one shape now"


@pytest.mark.parametrize(("everywhere", "shapes"), [("false", 1), ("true", 0)])
def test_a_shape_or_the_whole_colour_is_merged(new_print: Path, everywhere: str, shapes: int) -> None:
    pixels = tiny_pixels().copy()
    pixels[104:118, 100:150] = pixels[60, 120]
    Image.fromarray(pixels).save(new_print / "design.png")
    decide(
        new_print,
        end=f"[[design.merge]]\n{at(IN_BLUE)}\ninto = [{IN_OCHRE[0]}, {IN_OCHRE[1]}]\n"
        f"everywhere = {everywhere}",
    )
    left = {c["hex"]: c["shapes"] for c in told(_made(new_print), "design")["palette"]}
    assert left.get(BLUE, 0) == shapes


def test_a_shape_is_dropped(new_print: Path) -> None:
    """The disc touches paper along more of its edge than ochre, and so paper fills its place."""
    before = {c["hex"]: c["area_mm2"] for c in told(_made(new_print), "design")["palette"]}
    decide(new_print, end=f"[[design.drop]]\n{at(IN_BLUE)}")
    after = {c["hex"]: c["area_mm2"] for c in told(_made(new_print), "design")["palette"]}
    assert after[PAPER] == pytest.approx(before[PAPER] + before[BLUE])
    assert list(impressions(new_print)) == [OCHRE, DARK]


def test_the_printing_order_is_set(new_print: Path) -> None:
    set_value(new_print, "order", f'["{DARK}", "blue"]')
    made = told(_made(new_print), "separation")["impressions"]
    assert [(each["number"], each["hex"]) for each in made] == [(1, DARK), (2, BLUE), (3, OCHRE)]


def test_passes_are_set(new_print: Path) -> None:
    decide(new_print, end=f'[[separation.passes]]\ncolour = "{BLUE}"\ntimes = 3')
    assert {each["hex"]: each["passes"] for each in impressions(_made(new_print)).values()} == {
        OCHRE: 1,
        BLUE: 3,
        DARK: 1,
    }


def test_a_trap_is_set_for_one_colour(new_print: Path) -> None:
    before = {each["hex"]: each["area_mm2"] for each in impressions(_made(new_print)).values()}
    decide(new_print, end=f'[[separation.trap]]\ncolour = "{OCHRE}"\nmm = 1.5')
    after = impressions(_made(new_print))
    assert {each["hex"]: each["trap_mm"] for each in after.values()} == {OCHRE: 1.5, BLUE: 0.5, DARK: 0.5}
    assert after[OCHRE]["area_mm2"] > before[OCHRE] + 10
    assert after[BLUE]["area_mm2"] == pytest.approx(before[BLUE])


def test_a_palette_is_given(new_print: Path) -> None:
    decide(new_print, design=f'palette = ["{PAPER}", "#B4935A", "{DARK}"]')
    assert set(palette(_made(new_print))) == {PAPER, OCHRE, DARK}


def test_a_number_of_colours_is_given(new_print: Path) -> None:
    decide(new_print, design="colours = 3")
    assert told(_made(new_print), "design")["figures"]["colours"] == 3
    assert PAPER in palette(new_print)


EDITS: dict[str, Callable[[str], str]] = {
    "drop": lambda place: f"[[design.drop]]\n{place}",
    "name": lambda place: f'[[design.name]]\n{place}\nname = "x"',
    "recolour": lambda place: f'[[design.recolour]]\n{place}\nto = "#123456"',
    "merge": lambda place: f"[[design.merge]]\n{place}\ninto = [{IN_PAPER[0]}, {IN_PAPER[1]}]",
}


@pytest.mark.parametrize("edit", EDITS)
def test_an_edit_that_lies_in_no_shape_is_a_finding(new_print: Path, edit: str) -> None:
    plain = palette(_made(new_print))
    decide(new_print, end=EDITS[edit](at(OUTSIDE)))
    made = project.make(new_print, upto="separation")
    assert not made.stopped
    assert palette(new_print) == plain
    (finding,) = told(new_print, "design")["findings"]
    assert (finding["code"], finding["severity"], finding["at"]) == ("edit-misses", "warn", list(OUTSIDE))
    assert f"the {edit} at [500, 500]" in finding["message"]


@pytest.mark.parametrize(
    ("setting", "lines"),
    [
        ("passes", '[[separation.passes]]\ncolour = "mauve"\ntimes = 2'),
        ("trap", '[[separation.trap]]\ncolour = "mauve"\nmm = 2'),
    ],
)
def test_a_decision_about_no_colour_is_a_finding(new_print: Path, setting: str, lines: str) -> None:
    decide(new_print, end=lines)
    assert codes(_made(new_print), "separation") == [f"{setting}-unknown-colour"]


def test_a_face_that_is_not_there_is_a_finding(made_print: Path) -> None:
    decide(made_print, end='[[cutting.face]]\nface = "Q front"\nmethod = "stencil"')
    assert not project.make(made_print).stopped
    assert codes(made_print, "cutting") == ["face-not-known"]


def test_one_face_is_cut_as_a_stencil(made_print: Path) -> None:
    decide(made_print, end='[[cutting.face]]\nface = "A back"\nmethod = "stencil"')
    project.make(made_print)
    assert {face["face"]: face["method"] for face in told(made_print, "cutting")["faces"]} == {
        "A front": "hand",
        "A back": "stencil",
        "B front": "hand",
    }


# --- findings that stop the work ---------------------------------------------------------------------------


def test_marks_in_the_image_stop_the_work(made_print: Path) -> None:
    """The job is done all the same, so that the packet shows what is wrong."""
    for side in ("left", "right", "top", "bottom"):
        set_value(made_print, f"margin_{side}_mm", "0.0")
    made = project.make(made_print)
    assert made.stopped
    assert "marks-in-image" in codes(made_print, "blocks")
    assert made.packet is not None


def test_nothing_to_print_stops_the_work(new_print: Path) -> None:
    set_value(new_print, "paper_within_delta_e00", "30.0")
    decide(new_print, design=f'palette = ["{PAPER}", "#efe4cc"]')
    made = project.make(new_print)
    assert made.stopped
    assert codes(new_print, "separation")[-1] == "nothing-to-print"
    assert told(new_print, "blocks")["figures"]["faces"] == 0
    assert made.packet is not None
    assert made.packet.read_bytes().startswith(b"%PDF-")


# --- a new print -------------------------------------------------------------------------------------------


def test_a_new_print_takes_its_size_from_the_picture(tmp_path: Path, tiny_picture: Path) -> None:
    settings = project.create(tmp_path / "new", picture=tiny_picture)
    assert settings.print.width_mm == pytest.approx(WIDTH_MM, abs=0.01)
    assert settings.print.title == "new"
    assert read_decisions(tmp_path / "new") == settings
    assert (tmp_path / "new" / "design.png").read_bytes() == tiny_picture.read_bytes()
    assert sorted(p.name for p in (tmp_path / "new").iterdir()) == ["design.png", "print.toml"]


@pytest.mark.parametrize(
    ("name", "kept"), [("Bild.JPG", "design.jpg"), ("bild", "design.picture"), ("a.p n", "design.picture")]
)
def test_a_new_print_keeps_the_kind_of_file(tmp_path: Path, tiny_picture: Path, name: str, kept: str) -> None:
    shutil.copyfile(tiny_picture, tmp_path / name)
    settings = project.create(tmp_path / "new", picture=tmp_path / name, width_mm=60.0)
    assert settings.print.picture == kept
    project.make(tmp_path / "new", upto="design")


def test_a_screen_resolution_is_remarked_upon(tmp_path: Path) -> None:
    Image.fromarray(tiny_pixels()).save(tmp_path / "screen.png", dpi=(72, 72))
    said: list[str] = []
    project.create(tmp_path / "new", picture=tmp_path / "screen.png", say=said.append)
    assert any("72 pixels to the inch" in line and "check the width" in line for line in said)


def test_a_new_print_that_cannot_be_leaves_nothing(
    tmp_path: Path, tiny_picture: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "new"
    (tmp_path / "plain.png").write_bytes(_without_resolution())
    with pytest.raises(
        SettingsError, match=r"^plain\.png does not say how large it is; give the width in mm"
    ):
        project.create(place, picture=tmp_path / "plain.png")
    with pytest.raises(SettingsError, match=r"^--width is 5; it must be from 20 to 3000 mm\.$"):
        project.create(place, picture=tiny_picture, width_mm=5.0)
    with pytest.raises(SettingsError, match=r"^--title is too long or has a line break"):
        project.create(place, picture=tiny_picture, title="x" * 201)
    with pytest.raises(PictureError, match=r"is not there"):
        project.create(place, picture=tmp_path / "none.png")

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(project, "write_whole", full)
    with pytest.raises(FolderError, match=r"new cannot be written \(No space left on device\)\.$"):
        project.create(place, picture=tiny_picture)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plain.png"]
    place.mkdir()
    with pytest.raises(FolderError, match=r"No space"):
        project.create(place, picture=tiny_picture)
    assert list(place.iterdir()) == [], "a folder that was there stays there"


def _without_resolution() -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(tiny_pixels()).save(buffer, "PNG")
    return buffer.getvalue()


def test_the_proof_shows_the_colours_of_the_design(made_print: Path) -> None:
    proof = np.asarray(Image.open(made_print / "out" / "proof" / "proof.png").convert("RGB"))
    per_mm = proof.shape[1] / WIDTH_MM
    for place, colour in ((IN_PAPER, PAPER), (IN_OCHRE, OCHRE), (IN_BLUE, BLUE), (IN_DARK, DARK)):
        seen = proof[round(place[1] * per_mm), round(place[0] * per_mm)]
        wanted = [int(colour[k : k + 2], 16) for k in (1, 3, 5)]
        assert np.abs(seen.astype(int) - wanted).max() <= 2
