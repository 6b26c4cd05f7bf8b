"""A print with one face that a router cuts, as the cutting stage leaves it, made up for tests of its page.

The figures are invented. The heights are the face's own printing area between sloping walls, at 0.4 mm.
"""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from pydantic import TypeAdapter
from shapely.geometry import MultiPolygon, box

from blockwright import project
from blockwright.deciding import SetFaceMethod, change
from blockwright.documents.height_png import write_height_png
from blockwright.geometry.painting import paint_area
from blockwright.hashing import file_hash
from blockwright.model.blocks import BlockSet
from blockwright.model.cut import BitChoice, BitWork, Cut, FaceCut, Narrow, Routing

FACE, SLUG = "A front", "A-front"
STEP_MM = 0.4
DEEPEST_MM = 4.2

GOUGED_AT = (24.0, 15.0)
"""Where the programs of a face that is held back would cut into what prints, on the print."""

CHOICES = (
    BitChoice(("6 mm flat", "60 degree V"), 18.4, 41.0, 96.0),
    BitChoice(("6 mm flat", "1.5 mm flat", "60 degree V"), 31.2, 12.6, 14.2),
    BitChoice(("1.5 mm flat",), 74.0, 22.0, 31.0),
)


def _block(blocks: BlockSet) -> tuple[float, float, float, float]:
    face = next(each for each in blocks.faces if each.name == FACE)
    left, top, right, bottom = blocks.as_on(face).block.bounds
    return left, top, right, bottom


def heights_of(cut: FaceCut, block: tuple[float, float, float, float]) -> NDArray[np.float32]:
    """Heights in mm, row 0 at the lowest y of a program, which is the block's lower edge."""
    left, top, right, bottom = block
    wide, high = round((right - left) / STEP_MM), round((bottom - top) / STEP_MM)
    stands = (
        paint_area(
            cut.printing, pixels_per_mm=1 / STEP_MM, width_px=wide, height_px=high, origin_mm=(left, top)
        )
        > 0.5
    )
    away = cv2.distanceTransform((~stands).astype(np.uint8), cv2.DIST_L2, 5) * STEP_MM
    deep = np.where(stands, 0.0, -np.minimum(away * 1.7, np.minimum(1.5 + 0.1 * away, DEEPEST_MM)))
    return np.asarray(deep[::-1], dtype=np.float32)


def routing_of(cut: FaceCut, *, held_back: bool = False) -> Routing:
    """What a router would be said to do on a face."""
    edge = cut.printing.buffer(1.1).difference(cut.printing.buffer(0.1))
    left, top, right, bottom = edge.bounds
    hand = shapely.intersection(edge, box(left, top, (left + right) / 2, (top + bottom) / 2))
    parts = [part for part in shapely.get_parts(hand) if part.geom_type == "Polygon"]
    x, y = cut.printing.representative_point().coords[0]
    return Routing(
        machine="the router by the window",
        work=(
            BitWork("6 mm flat", "clears wide waste", 16000, 2400, 600, 900, 12.0, ("1-6-mm-flat.ngc",)),
            BitWork(
                "60 degree V",
                "walls and corners",
                18000,
                1200,
                400,
                2100,
                6.4,
                ("2-60-degree-V.ngc",),
                "It could be fed 1900 mm a minute.",
            ),
        ),
        router_min=18.4,
        lower_bound_min=14.2,
        gouge_mm2=0.42 if held_back else 0.0,
        shallow_mm2=1.8,
        deep_percent=99.4,
        deepest_mm=DEEPEST_MM,
        marks_off_mm=0.02,
        hand=MultiPolygon(parts),
        hand_places=len(parts),
        hand_min=41.0,
        narrow=(Narrow((x, y), 0.22), Narrow((x + 3.0, y), 0.31)),
        choices=CHOICES,
        held_back=held_back,
        idle=("3 mm ball",),
    )


def route(folder: Path, *, held_back: bool = False, bits: bool = True) -> None:
    """Have a finished print's face A front cut by a router, with all that its folder for the shop has."""
    text = (folder / "print.toml").read_text(encoding="utf-8")
    if '\nmethod = "router"' not in text:
        changed = change(text, SetFaceMethod(FACE, "router"))
        (folder / "print.toml").write_text(changed, encoding="utf-8")
    project.make(folder, upto="cutting")
    stage = folder / "out" / "cutting"
    reader = TypeAdapter(Cut)
    cut = reader.validate_json((stage / "value.json").read_bytes())
    own = next(each for each in cut.faces if each.face == FACE)
    blocks = TypeAdapter(BlockSet).validate_json((folder / "out" / "blocks" / "value.json").read_bytes())
    block = _block(blocks)
    routed = replace(own, method="router", routing=routing_of(own, held_back=held_back))
    faces = tuple(routed if each.face == FACE else each for each in cut.faces)
    (stage / "value.json").write_bytes(reader.dump_json(replace(cut, faces=faces)))
    names = _shop(stage, heights_of(own, block), held_back=held_back, bits=bits)
    if held_back:
        _tell_gouge(stage / "cutting.json")
    _note_anew(stage, names)


def _shop(stage: Path, heights: NDArray[np.float32], *, held_back: bool, bits: bool) -> list[str]:
    shop = stage / f"{SLUG}-shop"
    shop.mkdir(exist_ok=True)
    write_height_png(shop / "height.png", heights, step_mm=STEP_MM)
    seen = heights[::-1]
    tone = np.rint(255 + 30 * seen).astype(np.uint8)
    Image.fromarray(np.dstack([tone, tone - 8, tone - 24])).save(shop / "relief.png")
    if bits:
        last = np.where(seen > -0.02, 0, np.where(seen < -1.5, 1, 2)).astype(np.uint8)
        Image.fromarray(last).save(shop / "bits.png")
    names = ["height.png", "relief.png", *(["bits.png"] if bits else [])]
    texts = ["job-sheet.pdf", "handwork.pdf", "outlines.dxf", "outlines.svg", "surface.3mf"]
    programs = [] if held_back else ["1-6-mm-flat.ngc", "2-60-degree-V.ngc", "in-air.ngc"]
    for name in [*texts, *programs]:
        (shop / name).write_text(f"{name} of {FACE}\n", encoding="utf-8")
    return [f"{shop.name}/{name}" for name in [*names, *texts, *programs]]


def _tell_gouge(path: Path) -> None:
    told: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    message = "A front: the program would cut 0.42 mm² out of what prints; choose a smaller bit."
    finding = {"code": "would-cut-the-face", "severity": "stop", "message": message}
    told["findings"] = [{**finding, "at": GOUGED_AT, "about": {"face": FACE}}]
    path.write_text(json.dumps(told), encoding="utf-8")


def _note_anew(stage: Path, names: list[str]) -> None:
    note = stage / ".made.json"
    told = json.loads(note.read_text(encoding="utf-8"))
    kept = {name: value for name, value in told["sha256"].items() if "-shop/" not in name}
    told["sha256"] = {name: file_hash(stage / name) for name in [*kept, *names]}
    note.write_text(json.dumps(told), encoding="utf-8")
