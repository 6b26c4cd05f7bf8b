"""A small print drawn by hand for the tests: a mill on a river, six impressions on three boards."""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from blockwright.documents import Packet
from blockwright.model.blocks import BlockSet, Board, Face, FaceSide, Kento
from blockwright.model.cut import Cut, FaceCut, Method
from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.findings import Finding, Severity
from blockwright.model.inks import (
    Batch,
    Measure,
    NearInk,
    Optics,
    Part,
    PrintInk,
    PrintInks,
    Recipe,
    Swatches,
)
from blockwright.model.proof import Proof, ShapeProof
from blockwright.model.separation import Impression, Ink, Kind, Separation
from blockwright.model.settings import Settings

WIDTH_MM, HEIGHT_MM = 360.0, 240.0
COLOURS = (
    ("evening blush", "#e3b296"),
    ("far shore", "#8a8f86"),
    ("wet ochre", "#c9a774"),
    ("tide", "#9fb3b3"),
    ("mill brown", "#6d4a3a"),
    ("key", "#2b2a2c"),
)
PAPER_HEX = "#f6efdf"
SIDES: tuple[FaceSide, FaceSide] = ("front", "back")
SEVERITIES: tuple[Severity, ...] = ("warn", "note", "stop")


def multi(geometry: shapely.Geometry) -> MultiPolygon:
    parts = [part for part in shapely.get_parts(geometry) if isinstance(part, Polygon)]
    return MultiPolygon(parts)


def band(top: float, swing: float, bottom: float, waves: float) -> Polygon:
    x = np.linspace(0, WIDTH_MM, 240)
    upper = np.column_stack((x, top + swing * np.sin(x / WIDTH_MM * waves * 2 * np.pi)))
    return Polygon([*map(tuple, upper), (WIDTH_MM, bottom), (0.0, bottom)])


def areas() -> list[MultiPolygon]:
    sky = shapely.box(0, 0, WIDTH_MM, 118)
    shore = band(112, 5, 128, 2.5)
    flats = shapely.difference(shapely.box(0, 126, WIDTH_MM, HEIGHT_MM), band(150, 8, 190, 1.3))
    tide = shapely.intersection(band(149, 8, 191, 1.3), shapely.box(0, 100, WIDTH_MM, 191))
    mill = shapely.union_all([shapely.box(196, 84, 246, 132), Polygon([(190, 86), (221, 62), (252, 86)])])
    wheel = shapely.difference(shapely.Point(190, 132).buffer(17), shapely.Point(190, 132).buffer(14.5))
    spokes = [
        shapely.LineString(
            [(190 - 16 * np.cos(a), 132 - 16 * np.sin(a)), (190 + 16 * np.cos(a), 132 + 16 * np.sin(a))]
        ).buffer(0.5)
        for a in np.arange(6) * np.pi / 6
    ]
    reeds = [
        shapely.LineString([(x, 240), (x + 2, 225), (x + 9 * np.sin(x), 196 + 10 * np.cos(3 * x))]).buffer(
            0.35
        )
        for x in np.arange(12, 90, 4.5)
    ]
    frame = shapely.intersection(
        shapely.union_all(
            [
                wheel,
                *spokes,
                *reeds,
                mill.exterior.buffer(0.5),
                shapely.LineString([(196, 108), (246, 108)]).buffer(0.4),
            ]
        ),
        shapely.box(0, 0, WIDTH_MM, HEIGHT_MM),
    )
    return [multi(each) for each in (sky, shore, flats, tide, mill, frame)]


def lab(srgb_hex: str) -> tuple[float, float, float]:
    rgb = np.array([[[int(srgb_hex[i : i + 2], 16) / 255 for i in (1, 3, 5)]]], np.float32)
    lightness, a, b = cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB)[0, 0].tolist()
    return (lightness, a, b)


def impression(number: int, name: str, srgb_hex: str, area: MultiPolygon, passes: int = 1) -> Impression:
    ink = Ink(name, (0.2, 0.3, 0.5), (0.1, 0.1, 0.1))
    kind: Kind = "key" if name == "key" else "colour"
    return Impression(number, name, kind, ink, passes, (number - 1,), area, 0.5, srgb_hex, lab(srgb_hex))


def mirrored(area: MultiPolygon) -> MultiPolygon:
    return multi(shapely.transform(area, lambda xy: np.column_stack((WIDTH_MM - xy[:, 0], xy[:, 1]))))


def kento() -> Kento:
    right, foot, arm, wide = WIDTH_MM + 15.0, HEIGHT_MM + 15.0, 20.0, 8.0
    hikitsuke = right - 0.667 * (WIDTH_MM + 30.0)
    return Kento(
        kagi=(right, foot),
        hikitsuke=(hikitsuke, foot),
        kagi_wall=((right - arm, foot), (right, foot), (right, foot - arm)),
        hikitsuke_wall=((hikitsuke - arm / 2, foot), (hikitsuke + arm / 2, foot)),
        kagi_recess=Polygon(
            [
                (right - arm, foot),
                (right, foot),
                (right, foot - arm),
                (right - wide, foot - arm),
                (right - wide, foot - wide),
                (right - arm, foot - wide),
            ]
        ),
        hikitsuke_recess=shapely.box(hikitsuke - arm / 2, foot - wide, hikitsuke + arm / 2, foot),
        depth_mm=0.15,
    )


@dataclass(frozen=True)
class SamplePrint:
    design: Design
    separation: Separation
    blocks: BlockSet
    cut: Cut
    proof: Proof
    picture: NDArray[np.uint8]
    progressive: tuple[NDArray[np.uint8], ...]


def face_cut(face: Face, block: Polygon, method: Method, *, reach_mm: float = 25.0) -> FaceCut:
    sheet_marks = shapely.union_all([kento().kagi_recess, kento().hikitsuke_recess])
    waste = shapely.difference(block, shapely.union_all([face.printing, sheet_marks]))
    near = block if reach_mm > 100 else shapely.buffer(face.printing, reach_mm, quad_segs=4)
    clear, island = multi(shapely.intersection(waste, near)), multi(shapely.difference(waste, near))
    stencil = method == "stencil"
    weed = tuple((p.x, p.y) for p in shapely.point_on_surface(list(clear.geoms))) if stencil else ()
    return FaceCut(
        face=face.name,
        method=method,
        impressions=face.impressions,
        printing=face.printing,
        clear=clear,
        island=MultiPolygon() if stencil else island,
        weed=weed,
        border=shapely.box(*shapely.bounds(block) + np.array([-25, -25, 25, 25])) if stencil else None,
        edge_mm=float(shapely.length(face.printing)),
        clear_mm2=float(clear.area),
        minutes=0.0 if stencil else float(clear.area / 400 + shapely.length(face.printing) / 40),
    )


def raster(layers: list[tuple[str, MultiPolygon]], *, pixels_per_mm: float = 4.0) -> NDArray[np.uint8]:
    def rgb(srgb_hex: str) -> tuple[int, ...]:
        return tuple(int(srgb_hex[i : i + 2], 16) for i in (1, 3, 5))

    size = (round(HEIGHT_MM * pixels_per_mm), round(WIDTH_MM * pixels_per_mm), 3)
    pixels = np.empty(size, np.uint8)
    pixels[:] = rgb(PAPER_HEX)
    for srgb_hex, area in layers:
        for part in area.geoms:
            rings = [
                np.round(shapely.get_coordinates(ring) * pixels_per_mm * 16).astype(np.int32)
                for ring in (part.exterior, *part.interiors)
            ]
            cv2.fillPoly(pixels, rings, rgb(srgb_hex), cv2.LINE_AA, 4)
    return pixels


def make_print(
    *, title: str = "Tide mill at low water", count: int = 6, method: Method = "hand", findings: int = 3
) -> SamplePrint:
    shapes = areas()
    numbers = range(1, count + 1)
    chosen = [(COLOURS[(n - 1) % 6], shapes[(n - 1) % 6]) for n in numbers]
    impressions = tuple(
        impression(n, name if n <= 6 else f"{name} {n}", srgb_hex, area, passes=1 + n % 2)
        for n, ((name, srgb_hex), area) in zip(numbers, chosen, strict=True)
    )
    block = shapely.box(-19.0, -19.0, WIDTH_MM + 23, HEIGHT_MM + 23)
    boards = []
    for first in range(0, count, 2):
        faces = tuple(
            Face(f"{chr(65 + first // 2)} {side}", side, (each.number,), mirrored(each.area))
            for side, each in zip(SIDES, impressions[first : first + 2], strict=False)
        )
        boards.append(
            Board(
                chr(65 + first // 2), "middle linden plywood", "linden plywood", 408, 283, 12, "along", faces
            )
        )
    blocks = BlockSet(
        WIDTH_MM,
        HEIGHT_MM,
        block,
        shapely.box(-15.0, -15.0, WIDTH_MM + 15, HEIGHT_MM + 15),
        kento(),
        tuple(boards),
        count,
        True,
    )
    found = tuple(
        Finding(
            "narrow-line",
            SEVERITIES[k % 3],
            f"A line of far shore is only 0.2{k % 10} mm wide: linden plywood holds 0.8 mm. "
            "Cut it from cherry or draw it wider.",
            (30.0 + 17 * k % 300, 40.0 + 29 * k % 180),
        )
        for k in range(findings)
    )
    palette = tuple(PaletteColour(name, srgb_hex, lab(srgb_hex)) for name, srgb_hex in COLOURS)
    design = Design(
        title=title,
        width_mm=WIDTH_MM,
        height_mm=HEIGHT_MM,
        pixels_per_mm=4.0,
        paper_hex=PAPER_HEX,
        palette=palette,
        shapes=tuple(
            Shape(
                k,
                area.geoms[0],
                (area.geoms[0].representative_point().x, area.geoms[0].representative_point().y),
            )
            for k, area in enumerate(shapes)
        ),
        coverage_valid=True,
        gap_mm2=0.0,
        overlap_mm2=0.0,
        median_delta_e00=0.6,
        lost_percent=1.2,
        findings=found,
    )
    separation = Separation(impressions, (), ((1, 2, 300.0),), 1.4, 4.2)
    cuts = Cut(tuple(face_cut(face, block, method) for face in blocks.faces))
    shape_proof = ShapeProof((10.0, 10.0), 1000.0, (80, 5, 5), (79, 5, 6), 1.2, 0.4, 1.2)
    proof = Proof((shape_proof,), 1.4, 4.2, 12.0)
    layers = [(each.srgb_hex, each.area) for each in impressions]
    progressive = tuple(raster(layers[: n + 1]) for n in range(min(count, 6)))
    progressive += progressive[-1:] * (count - len(progressive))
    return SamplePrint(design, separation, blocks, cuts, proof, raster(layers), progressive)


def print_ink(impression: Impression) -> PrintInk:
    """An invented ink for an impression: every third from the shelf, every third mixed to match."""
    recipe = Recipe(
        (Part("burnt umber", 0.3), Part("Hansa yellow", 0.1)),
        0.6,
        1,
        impression.lab,
        "#808080",
        0.4,
        1.2,
        6.0,
    )
    measures = (
        Measure("burnt umber", 3.2, 2.1),
        Measure("Hansa yellow", 1.1, 0.9, 10),
        Measure("rice paste", 21.4, 21.4),
        Measure("glycerin", 0.8, 0.6),
    )
    kind = impression.number % 3
    return PrintInk(
        impression=impression.number,
        name=impression.name,
        origin=("literature", "measured", "matched")[kind],
        optics=Optics((0.2,) * 36, (0.1,) * 36),
        transfer=(1.0,),
        mixture=kind == 0,
        recipe=recipe if kind == 0 else None,
        shelf_number=12 if kind == 1 else None,
        delta_e00=0.4,
        uncertainty_delta_e00=6.0,
        swatches=(
            Swatches("paper", (impression.srgb_hex,) * 4, (impression.lab,) * 4, (4.0, 5.0, 6.0, 7.0)),
        ),
        batch=Batch(26.5, 25.0, measures if kind == 0 else (), 0.1, 18.0 if kind == 1 else None),
        near=(NearInk(7, "old ochre", 2, "#b4935a", 1.2, 4.0),) if kind == 0 else (),
        cautions=("burnt umber: contains manganese: do not breathe it in as dust.",) if kind == 0 else (),
        known_by=("recipe", "own swatch", None)[kind],
    )


def make_packet(sample: SamplePrint, *, paper: str = "A4") -> Packet:
    settings = Settings.model_validate(
        {"print": {"title": sample.design.title, "width_mm": WIDTH_MM}, "cutting": {"paper": paper}}
    )
    return Packet(
        design=sample.design,
        separation=sample.separation,
        blocks=sample.blocks,
        cut=sample.cut,
        proof=sample.proof,
        settings=settings,
        design_picture=sample.picture,
        proof_picture=sample.picture,
        progressive=sample.progressive,
        inks=PrintInks(tuple(print_ink(each) for each in sample.separation.impressions)),
        files={face.name: (f"{face.name} face down.pdf",) for face in sample.blocks.faces},
    )
