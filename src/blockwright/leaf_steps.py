"""The documents made for leaf: its ground at true size, and where the leaves are laid."""

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import shapely

from blockwright.folder import Document
from blockwright.hashing import make_key
from blockwright.model.design import Design
from blockwright.model.leaf import Laying
from blockwright.model.settings import CuttingTable, Settings
from blockwright.model.units import Region


def leaf_files(number: int) -> tuple[str, str, str, str]:
    """The files made for the leaf of an impression: the ground's mask, the plan of leaves, outlines twice."""
    name = f"leaf-{number:02d}"
    return f"{name}-ground.pdf", f"{name}-plan.pdf", f"{name}.svg", f"{name}.dxf"


def leaf_documents(
    layings: Sequence[Laying], design: Design, settings: Settings, version_of: Callable[..., str]
) -> list[Document]:
    """What is drawn for the leaf of a print; ``version_of`` tells the version of rooms that draw."""
    if not layings:
        return []
    version = version_of("documents", "data", "leaf_steps.py")
    image = shapely.box(0.0, 0.0, design.width_mm, design.height_mm)
    around = settings.blocks
    paper_sheet = shapely.box(
        -around.margin_left_mm,
        -around.margin_top_mm,
        design.width_mm + around.margin_right_mm,
        design.height_mm + around.margin_bottom_mm,
    )
    title = settings.print.title.strip() or "Untitled print"
    drawn = []
    for laying in layings:
        key = make_key(
            version,
            title,
            (laying.impression, laying.metal.name, laying.metal.side_mm, laying.metal.srgb_hex),
            (laying.ground.wkb_hex, [each.wkb_hex for each in laying.leaves]),
            (laying.sheets, laying.books, laying.leaves_needed, laying.fewest_known),
            (image.wkb_hex, paper_sheet.wkb_hex),
            settings.cutting.model_dump(mode="json", include={"paper", "roll_mm", "overlap_mm"}),
        )
        draw = partial(
            _draw,
            laying=laying,
            edges=(image, paper_sheet),
            title=title,
            table=settings.cutting,
        )
        drawn.append(Document(leaf_files(laying.impression), key, draw, 0))
    return drawn


def _draw(
    into: Path, *, laying: Laying, edges: tuple[Region, Region], title: str, table: CuttingTable
) -> None:
    from blockwright.documents.leaf_ground import write_ground_sheet
    from blockwright.documents.leaf_outlines import write_leaf_dxf, write_leaf_svg
    from blockwright.documents.packet_leaf import write_placement
    from blockwright.documents.paper import SHEETS_MM

    ground, plan, svg, dxf = leaf_files(laying.impression)
    image, paper_sheet = edges
    write_ground_sheet(
        into / ground,
        laying,
        image=image,
        paper_sheet=paper_sheet,
        paper=table.paper,
        roll_mm=table.roll_mm,
        overlap_mm=table.overlap_mm,
        title=title,
    )
    size = SHEETS_MM["Letter" if table.paper == "Letter" else "A4"]
    write_placement(into / plan, laying, image=image, title=title, size_mm=size)
    write_leaf_svg(into / svg, laying, image=image, paper_sheet=paper_sheet)
    write_leaf_dxf(into / dxf, laying, image=image, paper_sheet=paper_sheet)
