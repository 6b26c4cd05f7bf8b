"""Routed faces through the whole job: programs, the shop's folder, what is told, and programs checked."""

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomlkit

from blockwright import bits, project, studio
from blockwright.cutting.reading_program import read_program
from blockwright.documents.height_png import read_heights
from blockwright.model.errors import BlockwrightError
from blockwright.model.router import Bit
from tiny_print import decide, set_value, tree_hashes


@pytest.fixture
def routed(print_for_router: Path) -> Path:
    return print_for_router


def _told(folder: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((folder / "out" / "cutting" / "cutting.json").read_text("utf-8"))
    return told


def shop(folder: Path) -> Path:
    return next((folder / "out" / "cutting").glob("*-front-shop"))


def test_a_routed_face_has_a_folder_for_the_shop(routed: Path) -> None:
    names = {file.name for file in shop(routed).iterdir()}
    assert {"job-sheet.pdf", "handwork.pdf", "relief.png", "surface.3mf", "height.png"} <= names
    assert {"outlines.dxf", "outlines.svg", "program-1.ngc", "air-cut-1.ngc", "bits.png"} <= names
    told = json.loads((routed / "out" / "cutting" / "cutting.json").read_text(encoding="utf-8"))
    assert told["figures"]["gouge_mm2"] == 0.0
    assert told["figures"]["router_min"] > told["figures"]["lower_bound_min"] > 0.0
    for face in told["faces"]:
        assert face["method"] == "router"
        assert face["moves"] > 100
        assert face["deep_percent"] >= 99.0
        assert face["marks_off_mm"] <= 0.05
        assert not face["held_back"]
        assert all((routed / "out" / "cutting" / name).is_file() for name in face["files"])


def test_the_programs_are_read_back_and_the_heights_are_those_of_the_face(routed: Path) -> None:
    place = shop(routed)
    for program in place.glob("program-*.ngc"):
        moves = read_program(program.read_text(encoding="ascii"))
        assert len(moves)
        assert (
            read_program((place / f"air-cut-{program.stem[-1]}.ngc").read_text(), air_cut=True)
            .end[:, 2]
            .min()
            >= 0.0
        )
    heights, scale = read_heights(place / "height.png")
    assert scale.mm_per_pixel == pytest.approx(0.1)
    assert heights.max() == 0.0
    assert -5.0 < heights.min() < -1.4


def test_arcs_are_left_out_on_request(routed: Path) -> None:
    def arcs() -> int:
        texts = [file.read_text(encoding="ascii") for file in shop(routed).glob("program-*.ngc")]
        return sum(line.startswith(("G2", "G3")) for text in texts for line in text.splitlines())

    assert arcs() > 0
    document: Any = tomlkit.parse((routed / "print.toml").read_text(encoding="utf-8"))
    document["cutting"].setdefault("router", {})["arcs"] = False
    (routed / "print.toml").write_text(tomlkit.dumps(document), encoding="utf-8")
    project.make(routed, upto="cutting")
    assert arcs() == 0


def test_the_same_print_gives_the_same_programs(routed: Path) -> None:
    before = tree_hashes(routed / "out" / "cutting")
    (routed / "out" / "cutting" / "value.json").unlink()
    project.make(routed)
    assert tree_hashes(routed / "out" / "cutting") == before


def test_what_is_to_be_said_of_the_bits_is_said_once_and_not_on_every_face(
    made_print: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_value(made_print, "method", '"router"')
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path / "home"))
    at_home = studio.open_studio()
    plain = bits.show_machine(at_home, "plain table router").machine
    bits.add_machine(at_home, replace(plain, name="slow", rpm=(20000.0, 24000.0), feed_mm_min=1500.0))
    bits.add_bit(at_home, Bit(0, "90 mm flat", "flat", 90.0, 2, 20.0, shank_mm=12.0))
    document: Any = tomlkit.parse((made_print / "print.toml").read_text(encoding="utf-8"))
    document["cutting"]["router"] = {"machine": "slow", "bits": ["90 mm flat", "6 mm flat"]}
    (made_print / "print.toml").write_text(tomlkit.dumps(document), encoding="utf-8")
    project.make(made_print, upto="cutting")
    told = json.loads((made_print / "out" / "cutting" / "cutting.json").read_text(encoding="utf-8"))
    assert len(told["faces"]) > 1
    said = [(each["code"], each["message"]) for each in told["findings"] if each["code"].startswith("bit-")]
    assert [code for code, _ in said] == ["bit-too-large", "bit-rubs"]
    assert said[0][1].startswith("90 mm flat fits nowhere on the faces")
    assert said[1][1].startswith("6 mm flat could be fed ")


def test_programs_are_checked_whoever_wrote_them(routed: Path) -> None:
    face = shop(routed).name.removesuffix("-shop").replace("-", " ")
    programs = sorted(shop(routed).glob("program-*.ngc"))
    findings, figures = project.check_programs(routed, face, programs)
    assert figures["gouge_mm2"] == 0.0
    assert not [finding for finding in findings if finding.severity == "stop"]
    changed = routed / "changed.ngc"
    text = programs[0].read_text(encoding="ascii")
    # A line that goes straight across the face at the lowest depth of the program.
    end = text.rindex("M5")
    changed.write_text(text[:end] + "G0Z5\nG0X5Y30\nG1Z-1F300\nG1X75Y30F900\nG0Z5\n" + text[end:])
    findings, figures = project.check_programs(routed, face, [changed])
    assert "program-cuts-the-face" in {finding.code for finding in findings if finding.severity == "stop"}
    assert figures["gouge_mm2"] > 5.0


def test_a_turned_block_is_cut_as_one_that_is_not(routed: Path) -> None:
    """Its programs are others; the heights, and all that is drawn from them, are the same within the grid."""
    face = shop(routed).name.removesuffix("-shop").replace("-", " ")
    straight = Path(shutil.copytree(shop(routed), routed / "straight"))
    decide(routed, end=f'[[cutting.face]]\nface = "{face}"\nquarter_turn = true')
    programs = sorted(shop(routed).glob("program-*.ngc"))
    findings, figures = project.check_programs(routed, face, programs)
    assert findings == ()
    assert figures["gouge_mm2"] == 0.0
    before, scale = read_heights(straight / "height.png")
    after, _ = read_heights(shop(routed) / "height.png")
    # Thousandths of turned places round apart: a cell on a steep wall may come to have another height.
    off = np.abs(after - before)
    assert off.max() <= scale.mm_per_pixel * np.tan(np.radians(60.0))
    assert off.mean() < 1e-4
    assert (shop(routed) / "bits.png").read_bytes() == (straight / "bits.png").read_bytes()
    for program in programs:
        texts = [(place / program.name).read_text(encoding="ascii") for place in (straight, shop(routed))]
        assert ["TURNED: lay the block down" in text for text in texts] == [False, True]
        sizes = [re.findall(r"\(Stock: [^,]*, (\S+) x (\S+) x", text)[0] for text in texts]
        assert sizes[0] == sizes[1][::-1]
        spans = [np.ptp(read_program(text).end[:, :2], axis=0).tolist() for text in texts]
        assert spans[0] == pytest.approx(spans[1][::-1], abs=2e-3)
    # What was written for the block as it is carved would harm one that lies turned.
    findings, _ = project.check_programs(routed, face, sorted(straight.glob("program-*.ngc")))
    assert "program-cuts-the-face" in {finding.code for finding in findings}


def test_a_face_beyond_the_machine_stops_until_it_is_turned(
    routed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The tiny print's block is 98 x 83 mm, and its programs reach some mm past it."""
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path / "home"))
    narrow = replace(bits.first_routers().machines[0], name="narrow", reach_mm=(100.0, 130.0, 80.0))
    bits.add_machine(studio.open_studio(), narrow)
    faces = [each["face"] for each in _told(routed)["faces"]]
    own = ["3 mm flat", "60 degree V"]
    decide(
        routed,
        end=f'[[cutting.face]]\nface = "{faces[0]}"\nquarter_turn = true\n'
        f'[[cutting.face]]\nface = "{faces[1]}"\nbits = {json.dumps(own)}',
    )
    set_value(routed, "machine", '"narrow"')
    project.make(routed, upto="cutting")
    told = _told(routed)
    stops = [each for each in told["findings"] if each["severity"] == "stop"]
    assert [each["code"] for each in stops] == ["program-beyond-the-machine"] * (len(faces) - 1)
    assert [each["about"]["face"] for each in stops] == faces[1:]
    assert {each["about"]["quarter_turn"] for each in stops} == {1}
    assert [each["held_back"] for each in told["faces"]] == [False] + [True] * (len(faces) - 1)
    for name in faces:
        programs = (routed / "out" / "cutting" / f"{name.replace(' ', '-')}-shop").glob("*.ngc")
        assert bool(list(programs)) == (name == faces[0])
    # A face is routed with bits of its own where it has some.
    used = {each["face"]: each["bit_sets"][0]["bits"] for each in told["faces"]}
    assert set(used[faces[1]]) == set(own)
    assert len(used[faces[0]]) > len(own)


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("bits", ["none such"], "bits names none such, which is not in use on the shelf"),
        ("machine", "none such", "machine names none such, which is not in use on the shelf"),
        ("bits", ["60 degree V"], "names no flat bit"),
    ],
)
def test_what_is_not_on_the_shelf_is_one_sentence(
    made_print: Path, key: str, value: list[str] | str, told: str
) -> None:
    set_value(made_print, "method", '"router"')
    file = made_print / "print.toml"
    document: Any = tomlkit.parse(file.read_text(encoding="utf-8"))
    document["cutting"].setdefault("router", {})[key] = value
    file.write_text(tomlkit.dumps(document), encoding="utf-8")
    before = tree_hashes(made_print / "out" / "cutting")
    with pytest.raises(BlockwrightError, match=told):
        project.make(made_print)
    assert tree_hashes(made_print / "out" / "cutting") == before


def test_a_program_that_is_none_is_refused_by_its_name(routed: Path) -> None:
    face = shop(routed).name.removesuffix("-shop").replace("-", " ")
    with pytest.raises(BlockwrightError, match="job-sheet"):
        project.check_programs(routed, face, [shop(routed) / "job-sheet.pdf"])
    with pytest.raises(BlockwrightError, match="no face"):
        project.check_programs(routed, "Z front", [shop(routed) / "program-1.ngc"])
