"""The DXF measured by two readers of others and by its own group codes."""

from collections import Counter
from pathlib import Path
from typing import Any

import ezdxf
import pytest
import shapely
import trimesh
from outlined_faces import F_ON_BLOCK, F_SHAPE, RING, two_faces
from shapely.geometry import Point, Polygon

from blockwright.documents.outlines_dxf import write_face_dxf
from blockwright.model.errors import FolderError

BLOCK_WIDTH_MM, BLOCK_HEIGHT_MM = 180 + 19 + 23, 120 + 19 + 23
WRITTEN_MM = 0.001


@pytest.fixture(scope="module", name="drawings")
def _drawings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("dxf")
    blocks, cut = two_faces()
    paths = {}
    for face, its_cut in zip(blocks.faces, cut.faces, strict=True):
        paths[face.name] = folder / f"{face.name}.dxf"
        write_face_dxf(paths[face.name], blocks, face, its_cut)
    return paths


def read_groups(path: Path) -> list[tuple[int, str]]:
    """Read the pairs of lines of an ASCII DXF: a group code and its value."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return [(int(code), value.strip()) for code, value in zip(lines[::2], lines[1::2], strict=True)]


def read_outlines(path: Path) -> list[tuple[str, bool, Polygon]]:
    """Read every LWPOLYLINE by its group codes: layer (8), closed (70, bit 1), vertices (10, 20)."""
    outlines = []
    groups = iter(read_groups(path))
    layer, flags, xs, ys, inside = "", 0, [], [], False  # type: ignore[var-annotated]
    for code, value in groups:
        if code == 0:
            if inside:
                outlines.append((layer, bool(flags & 1), Polygon(list(zip(xs, ys, strict=True)))))
            inside, xs, ys, flags = value == "LWPOLYLINE", [], [], 0
        elif inside and code == 8:
            layer = value
        elif inside and code == 70:
            flags = int(value)
        elif inside and code in (10, 20):
            (xs if code == 10 else ys).append(float(value))
    return outlines


def layer_of(path: Path, name: str) -> list[Polygon]:
    return [outline for layer, _, outline in read_outlines(path) if layer == name]


def header(path: Path, name: str) -> str:
    groups = read_groups(path)
    return groups[groups.index((9, name)) + 1][1]


@pytest.mark.parametrize("name", ["A front", "A back"])
def test_the_audit_finds_nothing(drawings: dict[str, Path], name: str) -> None:
    drawing = ezdxf.readfile(drawings[name])
    audit = drawing.audit()
    assert not audit.errors
    assert not audit.fixes


def test_release_2010_in_millimetres(drawings: dict[str, Path]) -> None:
    """AC1024 is release 2010; $INSUNITS 4 millimetres, $MEASUREMENT 1 metric (published DXF reference)."""
    path = drawings["A front"]
    assert header(path, "$ACADVER") == "AC1024"
    assert header(path, "$INSUNITS") == "4"
    assert header(path, "$MEASUREMENT") == "1"
    assert float(header(path, "$EXTMIN")) == 0.0
    assert float(header(path, "$EXTMAX")) == BLOCK_WIDTH_MM


def test_every_outline_is_closed_and_on_a_layer_of_its_purpose(drawings: dict[str, Path]) -> None:
    by_hand = read_outlines(drawings["A front"])
    assert all(closed for _, closed, _ in by_hand)
    counts = Counter(layer for layer, _, _ in by_hand)
    assert (counts["BLOCK"], counts["SHEET"], counts["MARKS"], counts["PRINTING"]) == (1, 1, 2, 3)
    assert set(counts) == {"BLOCK", "SHEET", "MARKS", "PRINTING", "CLEAR", "ISLAND"}
    stencil = {layer for layer, _, _ in read_outlines(drawings["A back"])}
    assert stencil == {"BLOCK", "SHEET", "MARKS", "PRINTING", "CLEAR", "BORDER"}


def test_the_block_stands_at_the_origin(drawings: dict[str, Path]) -> None:
    (block,) = layer_of(drawings["A front"], "BLOCK")
    assert block.bounds == (0.0, 0.0, BLOCK_WIDTH_MM, BLOCK_HEIGHT_MM)


def test_the_f_is_mirrored_and_stands_upright(drawings: dict[str, Path]) -> None:
    """y is up in DXF, so the F on the block, measured from above, is turned over once."""
    (found,) = layer_of(drawings["A back"], "PRINTING")
    expected = Polygon([(x, BLOCK_HEIGHT_MM - y) for x, y in F_ON_BLOCK.exterior.coords])
    assert shapely.hausdorff_distance(found, expected) <= WRITTEN_MM
    # the stem, right-reading at the left of the F, stands at its right, and the arms are above
    assert found.contains(Point(180 - 27 + 19, BLOCK_HEIGHT_MM - (90 + 19)))
    assert not found.contains(Point(180 - 53 + 19, BLOCK_HEIGHT_MM - (90 + 19)))
    assert found.area == pytest.approx(F_SHAPE.area, rel=1e-5)


def test_the_kagi_is_at_the_lower_right(drawings: dict[str, Path]) -> None:
    """Fletcher 1916, seen by the printer: 8 mm of rim right of the sheet and below it."""
    kagi = max(layer_of(drawings["A front"], "MARKS"), key=lambda outline: outline.bounds[0])
    assert kagi.bounds == (BLOCK_WIDTH_MM - 8 - 20, 8.0, BLOCK_WIDTH_MM - 8, 28.0)


def test_measured_by_another_reader(drawings: dict[str, Path]) -> None:
    """trimesh reads DXF with its own code."""
    path: Any = trimesh.load(drawings["A front"])
    assert path.units == "millimeters"
    assert path.bounds.tolist() == [[0.0, 0.0], [BLOCK_WIDTH_MM, BLOCK_HEIGHT_MM]]
    printing = [
        entity for entity, layer in zip(path.entities, path.layers, strict=True) if layer == "PRINTING"
    ]
    length = sum(float(entity.length(path.vertices)) for entity in printing)
    assert length == pytest.approx(F_SHAPE.length + RING.length, abs=0.05)


def test_weeding_marks_lie_in_the_parts_to_lift(drawings: dict[str, Path]) -> None:
    drawing = ezdxf.readfile(drawings["A back"])
    points = [entity.dxf.location for entity in drawing.modelspace().query('POINT[layer=="WEED"]')]
    rings = sorted(layer_of(drawings["A back"], "CLEAR"), key=lambda ring: -float(ring.area))
    lifted = rings[0].difference(shapely.union_all(rings[1:]))
    assert points
    assert all(lifted.contains(Point(point.x, point.y)) for point in points)


def test_the_border_is_25_mm_outside_the_block(drawings: dict[str, Path]) -> None:
    (border,) = layer_of(drawings["A back"], "BORDER")
    assert border.bounds == (-25.0, -25.0, BLOCK_WIDTH_MM + 25, BLOCK_HEIGHT_MM + 25)


def test_the_same_bytes_again_and_no_clock(drawings: dict[str, Path], tmp_path: Path) -> None:
    blocks, cut = two_faces()
    path = tmp_path / "again.dxf"
    write_face_dxf(path, blocks, blocks.faces[0], cut.faces[0])
    assert path.read_bytes() == drawings["A front"].read_bytes()
    # the first of January 2000 as a Julian day
    assert {float(header(path, name)) for name in ("$TDCREATE", "$TDUPDATE")} == {2451545.0}
    assert not ezdxf.options.write_fixed_meta_data_for_testing


def test_a_folder_that_is_missing_is_said_plainly(tmp_path: Path) -> None:
    blocks, cut = two_faces()
    with pytest.raises(FolderError, match=r"face\.dxf cannot be written"):
        write_face_dxf(tmp_path / "missing" / "face.dxf", blocks, blocks.faces[0], cut.faces[0])


def test_the_cut_of_another_face_is_refused(tmp_path: Path) -> None:
    blocks, cut = two_faces()
    with pytest.raises(ValueError, match="A back does not belong to A front"):
        write_face_dxf(tmp_path / "face.dxf", blocks, blocks.faces[0], cut.faces[1])
