"""The 3MF file read by a library of others and as the package of XML that it is."""

import re
from pathlib import Path
from xml.etree import ElementTree
from zipfile import ZipFile

import numpy as np
import pytest
import trimesh
from routed_face import STEP_MM, routed_face

from blockwright.documents.surface_3mf import write_surface_3mf
from blockwright.geometry.surface_mesh import Body
from blockwright.model.errors import FolderError

THICK_MM = 12.0
CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"


def written(path: Path) -> Body:
    return write_surface_3mf(
        path,
        routed_face().heights,
        step_mm=STEP_MM,
        thickness_mm=THICK_MM,
        face='A "front"',
        title="Tide & <mill>",
    )


@pytest.fixture(scope="module", name="path")
def _path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("3mf") / "A-front.3mf"
    written(path)
    return path


def test_a_reader_of_others_finds_a_closed_block_in_mm(path: Path) -> None:
    mesh = trimesh.load(path, force="mesh")
    assert isinstance(mesh, trimesh.Trimesh)
    assert mesh.units == "millimeter"
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    x0, y0, x1, y1 = routed_face().blocks.block.bounds
    assert mesh.bounds.tolist() == [[0.0, 0.0, 0.0], [x1 - x0, y1 - y0, THICK_MM]]
    solid = float((THICK_MM + routed_face().heights.astype(np.float64)).sum()) * STEP_MM**2
    assert mesh.volume == pytest.approx(solid, rel=2e-3)


def test_what_prints_is_at_the_face_and_the_hollow_is_not(path: Path) -> None:
    """The letter's stem on the print is 4 to 11 mm from the left; the block reaches 19 mm past the image."""
    mesh = trimesh.load(path, force="mesh")
    assert isinstance(mesh, trimesh.Trimesh)
    top = mesh.vertices[mesh.vertices[:, 2] > 0.0]
    foot = routed_face().blocks.block.bounds[3]
    stem = (top[:, 0] > 19 + 64 - 10.8) & (top[:, 0] < 19 + 64 - 4.2)
    stem &= (top[:, 1] > foot - 35.8) & (top[:, 1] < foot - 4.2)
    assert stem.sum() > 3
    assert np.abs(top[stem, 2] - THICK_MM).max() < 0.001
    assert top[:, 2].min() == pytest.approx(THICK_MM + routed_face().heights.min(), abs=0.2)


def test_the_package_says_what_it_is(path: Path) -> None:
    """3MF Core Specification 1.3: the parts, the unit and the names of the metadata."""
    with ZipFile(path) as package:
        assert package.namelist() == ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        root = ElementTree.fromstring(package.read("3D/3dmodel.model"))
        link = ElementTree.fromstring(package.read("_rels/.rels"))[0]
    assert link.get("Target") == "/3D/3dmodel.model"
    assert root.get("unit") == "millimeter"
    told = {each.get("name"): each.text for each in root.findall(f"{CORE}metadata")}
    assert told["Title"] == 'Tide & <mill>: A "front"'
    off = re.search(r"Within ([\d.]+) mm .* near the face, ([\d.]+) mm", told["Description"] or "")
    assert off is not None
    assert float(off[1]) <= 0.02
    assert float(off[2]) <= 0.16
    vertices, triangles = root.findall(f".//{CORE}vertex"), root.findall(f".//{CORE}triangle")
    body = written(path)
    assert (len(vertices), len(triangles)) == (len(body.points), len(body.triangles))
    read = np.array([[float(each.get(axis) or "nan") for axis in "xyz"] for each in vertices])
    assert np.abs(read - body.points).max() <= 0.0005 + 1e-9
    corners = np.array([[int(each.get(v) or "-1") for v in ("v1", "v2", "v3")] for each in triangles])
    assert (corners == body.triangles).all()


def test_the_same_surface_gives_the_same_bytes(tmp_path: Path, path: Path) -> None:
    written(tmp_path / "again.3mf")
    assert (tmp_path / "again.3mf").read_bytes() == path.read_bytes()


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"A-front\.3mf cannot be written"):
        written(tmp_path / "nowhere" / "A-front.3mf")
