"""The SVG measured by svgelements, read as XML, and looked at as pixels."""

from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
import resvg_py
import shapely
import svgelements
from outlined_faces import F_ON_BLOCK, F_SHAPE, RING, two_faces
from PIL import Image
from shapely.geometry import Point, Polygon

from blockwright.documents.outlines_svg import write_face_svg
from blockwright.model.errors import FolderError

BLOCK_WIDTH_MM, BLOCK_HEIGHT_MM = 180 + 19 + 23, 120 + 19 + 23
MARGIN_MM = 1.0
WRITTEN_MM = 0.001
SVG = "{http://www.w3.org/2000/svg}"
MM_PER_PIXEL = 25.4 / 96
"""CSS pixels, 96 to the inch, in which svgelements gives its lengths."""


@pytest.fixture(scope="module", name="drawings")
def _drawings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("svg")
    blocks, cut = two_faces()
    paths = {}
    for face, its_cut in zip(blocks.faces, cut.faces, strict=True):
        paths[face.name] = folder / f"{face.name}.svg"
        write_face_svg(paths[face.name], blocks, face, its_cut)
    return paths


def read_paths(path: Path, group: str) -> list[Polygon]:
    """Read a group's paths with svgelements, in mm on the page, less the margin round the drawing."""
    drawing: Any = svgelements.SVG.parse(str(path), reify=True, ppi=96)
    found = drawing.get_element_by_id(group)
    polygons = []
    for element in found.select(lambda each: isinstance(each, svgelements.Path)):
        rings = [
            [
                (point.x * MM_PER_PIXEL - MARGIN_MM, point.y * MM_PER_PIXEL - MARGIN_MM)
                for point in svgelements.Path(sub).as_points()
            ]
            for sub in element.as_subpaths()
        ]
        polygons.append(Polygon(rings[0], rings[1:]))
    return polygons


def groups(path: Path) -> list[str]:
    return [group.attrib["id"] for group in ElementTree.parse(path).getroot().iter(f"{SVG}g")]


def test_the_page_is_in_millimetres(drawings: dict[str, Path]) -> None:
    root = ElementTree.parse(drawings["A front"]).getroot()
    wide, high = BLOCK_WIDTH_MM + 2 * MARGIN_MM, BLOCK_HEIGHT_MM + 2 * MARGIN_MM
    assert (root.attrib["width"], root.attrib["height"]) == (f"{wide:g}mm", f"{high:g}mm")
    assert root.attrib["viewBox"] == f"-1 -1 {wide:g} {high:g}"
    assert root.attrib["version"] == "1.1"
    assert root.findtext(f"{SVG}title") == "A front: impression 1"


def test_groups_by_purpose(drawings: dict[str, Path]) -> None:
    assert groups(drawings["A front"]) == ["block", "island", "clear", "sheet", "marks", "printing"]
    assert groups(drawings["A back"]) == ["block", "clear", "sheet", "marks", "printing", "border", "weed"]


def test_the_f_is_mirrored_at_its_place(drawings: dict[str, Path]) -> None:
    found = min(read_paths(drawings["A front"], "printing"), key=lambda each: -each.bounds[2])
    assert shapely.hausdorff_distance(found, F_ON_BLOCK) <= WRITTEN_MM
    assert found.area == pytest.approx(F_SHAPE.area, rel=1e-5)


def test_holes_belong_to_their_path(drawings: dict[str, Path]) -> None:
    ring = min(read_paths(drawings["A front"], "printing"), key=lambda each: each.bounds[0])
    assert len(ring.interiors) == 1
    assert ring.area == pytest.approx(RING.area, rel=1e-5)


def test_the_kagi_is_at_the_lower_right(drawings: dict[str, Path]) -> None:
    """Fletcher 1916: seen by the printer; 8 mm of rim right of the sheet and below it."""
    kagi = max(read_paths(drawings["A front"], "marks"), key=lambda each: each.bounds[0])
    right, bottom = BLOCK_WIDTH_MM - 8, BLOCK_HEIGHT_MM - 8
    assert kagi.bounds == pytest.approx((right - 20, bottom - 20, right, bottom), abs=WRITTEN_MM)


def test_a_stencil_has_its_border_and_weeding_marks(drawings: dict[str, Path]) -> None:
    """25 mm oversize on all sides: sign-trade pages."""
    (border,) = read_paths(drawings["A back"], "border")
    assert border.bounds == pytest.approx((0, 0, BLOCK_WIDTH_MM + 50, BLOCK_HEIGHT_MM + 50), abs=WRITTEN_MM)
    root = ElementTree.parse(drawings["A back"]).getroot()
    dots = [(float(dot.attrib["cx"]), float(dot.attrib["cy"])) for dot in root.iter(f"{SVG}circle")]
    lifted = shapely.union_all(read_paths(drawings["A back"], "clear"))
    assert dots
    assert all(lifted.contains(Point(x + 25, y + 25)) for x, y in dots)


def test_as_pixels(drawings: dict[str, Path]) -> None:
    """Drawn by resvg at 4 pixels to the mm: the dark pixels are the area that prints, within 1 %."""
    drawn = resvg_py.svg_to_bytes(
        svg_path=str(drawings["A front"]),
        width=round((BLOCK_WIDTH_MM + 2) * 4),
        dpi=96,
        skip_system_fonts=True,
    )
    grey = np.asarray(Image.open(BytesIO(bytes(drawn))).convert("L"))
    inside = grey[12:-12, 12:-12]  # without the line of the block's edge
    assert (inside < 60).sum() / 16 == pytest.approx(F_SHAPE.area + RING.area, rel=0.01)
    x, y = (180 - 27 + 19 + MARGIN_MM) * 4, (90 + 19 + MARGIN_MM) * 4
    assert grey[round(y), round(x)] < 60


def test_coordinates_have_three_decimals_and_nothing_odd(drawings: dict[str, Path]) -> None:
    text = drawings["A front"].read_text(encoding="utf-8")
    numbers = [word.lstrip("ML") for line in text.splitlines() for word in line.split() if word[:1] in "ML"]
    assert numbers
    assert all(len(number.partition(".")[2]) <= 3 for number in numbers if number)
    assert "nan" not in text
    assert "-0 " not in text
    assert text.endswith("</svg>\n")


def test_the_same_bytes_again(drawings: dict[str, Path], tmp_path: Path) -> None:
    blocks, cut = two_faces()
    path = tmp_path / "again.svg"
    write_face_svg(path, blocks, blocks.faces[1], cut.faces[1])
    assert path.read_bytes() == drawings["A back"].read_bytes()


def test_a_folder_that_is_missing_is_said_plainly(tmp_path: Path) -> None:
    blocks, cut = two_faces()
    with pytest.raises(FolderError, match=r"face\.svg cannot be written"):
        write_face_svg(tmp_path / "missing" / "face.svg", blocks, blocks.faces[0], cut.faces[0])


def test_the_cut_of_another_face_is_refused(tmp_path: Path) -> None:
    blocks, cut = two_faces()
    with pytest.raises(ValueError, match="A front does not belong to A back"):
        write_face_svg(tmp_path / "face.svg", blocks, blocks.faces[1], cut.faces[0])
