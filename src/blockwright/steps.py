"""Every stage as a step of the print folder: what it depends on, its work, and its documents."""

import shutil
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import TypeAdapter

from blockwright.folder import Document, FileStep, Kept, Step, keep_file
from blockwright.hashing import code_version, file_hash, make_key
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import Cut, FaceCut
from blockwright.model.design import Design, Tracing
from blockwright.model.inks import Optics, PrintInk, PrintInks
from blockwright.model.movement import NO_MOVEMENT
from blockwright.model.proof import Proof
from blockwright.model.separation import Separation
from blockwright.model.settings import CuttingTable, Settings
from blockwright.model.shelf import RouterShelf
from blockwright.model.units import MM_PER_INCH
from blockwright.router_steps import is_routed, reliefs, route, shop_documents, shop_files
from blockwright.shelf import routers_at_hand
from blockwright.telling import (
    REGISTRATION_FILES,
    bench_files,
    file_name,
    tell_blocks,
    tell_cut,
    tell_design,
    tell_proof,
    tell_tracing,
)

_FACE_PIXELS = 1600
"""Long side of a face's drawing, in pixels: sharp when it fills a screen."""

PICTURE_DPI = 150
"""Resolution of the pictures of shapes and impressions: an A3 print fills a large screen."""

SMALL_PICTURE, _SMALL_PIXELS = "picture.png", 2400
"""The design as it was read, and the pixels along its long side: sharp on the packet's cover."""

_SMALL_PROOF_PIXELS = 480
"""Width of the small progressive proofs, in pixels: sharp in the rack on a dense screen."""

PACKET, _PACKET_PROOF_PIXELS = "packet.pdf", 720
"""The packet, and the long side of the progressive proofs in it: 200 dots to the inch where they stand."""

_EVERYWHERE = (
    "model",
    "geometry",
    "colour",
    "project.py",
    "steps.py",
    "folder.py",
    "hashing.py",
    "hands.py",
    "telling.py",
)
"""Rooms and modules that every stage rests on."""

PICTURES = ("documents/curve_svg.py", "documents/pictures.py", "documents/png.py", "documents/decimals.py")
"""Modules that pictures in a stage's folder rest on."""

_SHEET_KEYS = {"paper", "roll_mm", "overlap_mm"}
"""Settings of cutting that only the sheets of paper depend on."""


def version_of(*rooms: str) -> str:
    """The version of the code of these rooms and of what every stage rests on."""
    return code_version((*_EVERYWHERE, *rooms))


def points_in(*shapes: Any) -> int:
    """How many points outline these shapes: the work that drawing them takes."""
    import shapely

    return int(sum(shapely.get_num_coordinates(shape) for shape in shapes))


_EDIT_KEYS = {"recolour", "merge", "drop", "gradation", "name", "least_area_mm2", "least_width_mm"}
"""Settings of the design that are applied to shapes that are traced already."""


def tracing_step(picture: Path, settings: Settings, *, picture_hash: str | None = None) -> Step[Tracing]:
    """From the picture to shapes, before any hand edit: the slow part of the design, kept by itself.

    ``picture_hash`` is the SHA-256 of the picture's file where it is known already.
    """
    table = settings.print
    edits = ("recolour", "merge", "drop", "gradation", "name")
    asked = settings.design.model_copy(update=dict.fromkeys(edits, ()))

    def work(into: Path) -> tuple[Tracing, dict[str, Any]]:
        from blockwright.design import read_picture, trace_picture
        from blockwright.documents.pictures import shrink
        from blockwright.documents.png import write_png

        read = read_picture(picture, paper_hex=table.paper, width_mm=table.width_mm)
        small = shrink(read.pixels, most_px=_SMALL_PIXELS)
        write_png(into / SMALL_PICTURE, small, dpi=small.shape[1] / table.width_mm * MM_PER_INCH)
        tracing = trace_picture(read.pixels, width_mm=table.width_mm, settings=asked, notes=read.notes)
        return tracing, tell_tracing(tracing)

    key = make_key(
        version_of("design", *PICTURES),
        picture_hash or file_hash(picture),
        (table.width_mm, table.paper),
        settings.design.model_dump(mode="json", exclude=_EDIT_KEYS),
    )
    return Step("tracing", Tracing, key, work)


def design_step(tracing: Kept[Tracing], settings: Settings) -> Step[Design]:
    """From shapes as traced to the design: the hand edits, names, and what cannot be carved."""
    table = settings.print

    def work(into: Path) -> tuple[Design, dict[str, Any]]:
        from blockwright.design import finish_design

        design = finish_design(
            tracing.value, title=table.title, paper_hex=table.paper, settings=settings.design
        )
        keep_file(tracing.folder / SMALL_PICTURE, into / SMALL_PICTURE)
        return design, tell_design(design)

    def documents(design: Design) -> list[Document]:
        points = points_in(*(shape.region for shape in design.shapes))
        bare = replace(design, findings=())
        return [
            Document(("shapes.png",), key, partial(_draw_shapes, design=bare), points),
            Document(("shapes.svg",), key, partial(_draw_outlines, design=bare), points),
        ]

    key = make_key(
        version_of("design", *PICTURES),
        tracing.key,
        tracing.value_hash,
        (table.title, table.paper),
        settings.design.model_dump(mode="json", include=_EDIT_KEYS),
    )
    return Step("design", Design, key, work, documents)


def _draw_shapes(into: Path, *, design: Design) -> None:
    from blockwright.documents.pictures import paint_design
    from blockwright.documents.png import write_png

    write_png(into / "shapes.png", paint_design(design, dpi=PICTURE_DPI), dpi=PICTURE_DPI)


def _draw_outlines(into: Path, *, design: Design) -> None:
    from blockwright.documents.pictures import write_shapes_svg

    write_shapes_svg(into / "shapes.svg", design)


def blocks_step(design: Kept[Design], separation: Kept[Separation], settings: Settings) -> Step[BlockSet]:
    """From impressions to boards and faces."""
    version = version_of("blocks", "documents", "data")

    def work(_: Path) -> tuple[BlockSet, dict[str, Any]]:
        from blockwright.blocks import lay_out_blocks

        blocks = lay_out_blocks(
            separation.value,
            width_mm=design.value.width_mm,
            height_mm=design.value.height_mm,
            settings=settings.blocks,
        )
        return blocks, tell_blocks(blocks)

    def documents(blocks: BlockSet) -> list[Document]:
        inks = {
            each.number: (each.name, each.srgb_hex, each.ink is None) for each in separation.value.impressions
        }
        return [
            Document(
                (f"{file_name(face.name)}.png",),
                key,
                partial(
                    _draw_face,
                    blocks=_of_one_face(blocks, face),
                    face=face,
                    inks={number: inks[number] for number in face.impressions},
                ),
                points_in(face.printing),
            )
            for face in blocks.faces
        ]

    key = make_key(version, design.value_hash, separation.value_hash, settings.blocks.model_dump(mode="json"))
    return Step("blocks", BlockSet, key, work, documents)


def _of_one_face(blocks: BlockSet, face: Face) -> BlockSet:
    """The blocks as far as one face's drawings show them, which is quicker handed on than all of them."""
    boards = tuple(replace(board, faces=(face,)) for board in blocks.boards if face in board.faces)
    return replace(blocks.as_on(face), boards=boards, findings=())


def _draw_face(into: Path, *, blocks: BlockSet, face: Face, inks: dict[int, tuple[str, str, bool]]) -> None:
    from blockwright.documents import InkSaid, draw_face_png

    path = into / f"{file_name(face.name)}.png"
    said = {number: InkSaid(*ink) for number, ink in inks.items()}
    draw_face_png(path, blocks, face, pixels=_FACE_PIXELS, as_seen="carver", inks=said)


def cutting_step(blocks: Kept[BlockSet], separation: Kept[Separation], settings: Settings) -> Step[Cut]:
    """From faces to what goes to the bench or to the stencil cutter."""
    version = version_of("cutting", "documents", "data", "router_steps.py")
    table = settings.cutting
    shelf = routers_at_hand() if is_routed(settings) else RouterShelf()

    def work(into: Path) -> tuple[Cut, dict[str, Any]]:
        from blockwright.cutting import plan_cuts

        cut = route(blocks.value, plan_cuts(blocks.value, table), settings, shelf, into)
        files = {face.face: (*bench_files(face.face), *shop_files(face)) for face in cut.faces}
        return cut, tell_cut(cut, files)

    def documents(cut: Cut) -> list[Document]:
        names = {each.number: each.name for each in separation.value.impressions}
        lines = make_key(version, blocks.value_hash, table.model_dump(mode="json", exclude=_SHEET_KEYS))
        title = settings.print.title
        drawn: list[Document] = []
        for face, face_cut in zip(blocks.value.faces, cut.faces, strict=True):
            down, up, dxf, svg = bench_files(face.name)
            points = points_in(face_cut.printing, face_cut.clear)
            one = _of_one_face(blocks.value, face)
            for name, kind in ((down, "face down"), (up, "face up")):
                draw = partial(
                    _draw_transfer,
                    name=name,
                    kind=kind,
                    blocks=one,
                    cut=face_cut,
                    table=table,
                    title=title,
                    names=names,
                )
                drawn.append(Document((name,), key, draw, points))
            draw = partial(_draw_lines, names=(dxf, svg), blocks=one, cut=face_cut)
            drawn.append(Document((dxf, svg), lines, draw, points))
        if blocks.value.registration is not None:
            board = replace(blocks.value, boards=(), sawn=(), findings=(), movement=NO_MOVEMENT)
            draw = partial(_draw_registration, blocks=board, table=table, title=title)
            drawn.append(Document(REGISTRATION_FILES, key, draw, 0))
        return [*drawn, *shop_documents(blocks.value, cut, settings, shelf, key=key)]

    key = make_key(
        version,
        blocks.value_hash,
        separation.value_hash,
        table.model_dump(mode="json"),
        settings.print.title,
        *([TypeAdapter(RouterShelf).dump_python(shelf, mode="json")] if is_routed(settings) else []),
    )
    return Step("cutting", Cut, key, work, documents)


def _draw_transfer(
    into: Path,
    *,
    name: str,
    kind: str,
    blocks: BlockSet,
    cut: FaceCut,
    table: CuttingTable,
    title: str,
    names: dict[int, str],
) -> None:
    from blockwright.documents import write_transfer_sheet

    (face,) = blocks.faces
    write_transfer_sheet(
        into / name,
        blocks,
        face,
        cut,
        kind=kind,  # type: ignore[arg-type]
        paper=table.paper,
        roll_mm=table.roll_mm,
        overlap_mm=table.overlap_mm,
        title=title,
        impression_names=names,
    )


def _draw_registration(into: Path, *, blocks: BlockSet, table: CuttingTable, title: str) -> None:
    from blockwright.documents.registration_board import write_registration_pdf, write_registration_svg

    pdf, svg = REGISTRATION_FILES
    write_registration_pdf(
        into / pdf,
        blocks,
        paper=table.paper,
        roll_mm=table.roll_mm,
        overlap_mm=table.overlap_mm,
        title=title,
    )
    write_registration_svg(into / svg, blocks)


def _draw_lines(into: Path, *, names: tuple[str, str], blocks: BlockSet, cut: FaceCut) -> None:
    from blockwright.documents import write_face_dxf, write_face_svg

    (face,) = blocks.faces
    write_face_dxf(into / names[0], blocks, face, cut)
    write_face_svg(into / names[1], blocks, face, cut)


def proof_step(
    design: Kept[Design], separation: Kept[Separation], inks: Kept[PrintInks], settings: Settings
) -> Step[Proof]:
    """From impressions and their inks to predicted proofs."""
    version = version_of("proof", *PICTURES)
    dpi = settings.proof.dpi

    def work(_: Path) -> tuple[Proof, dict[str, Any]]:
        from blockwright.colour import lab_to_hex
        from blockwright.proof import prove

        proof = prove(design.value, separation.value, inks.value.inks, settings.proof)
        return proof, tell_proof(proof, [lab_to_hex(shape.predicted_lab) for shape in proof.shapes])

    def documents(_: Proof) -> list[Document]:
        impressions = separation.value.impressions
        numbers = range(len(impressions) + 1)
        names = *(_after(number) for number in numbers), *(_small(number) for number in numbers), "proof.png"
        pictures = make_key(version, design.value_hash, separation.value_hash, inks.value_hash, dpi)
        draw = partial(
            _draw_progress,
            design=design.value,
            separation=separation.value,
            inks=_bare_inks(inks.value),
            dpi=dpi,
        )
        return [Document(names, pictures, draw, points_in(*(each.area for each in impressions)))]

    key = make_key(
        version,
        design.value_hash,
        separation.value_hash,
        inks.value_hash,
        settings.proof.model_dump(mode="json"),
    )
    return Step("proof", Proof, key, work, documents)


def _bare_inks(inks: PrintInks) -> tuple[PrintInk, ...]:
    """The inks as far as pictures show them, which is quicker handed on than all that is known of them."""
    return tuple(
        replace(ink, optics=Optics(ink.optics.k, ink.optics.s), recipe=None, swatches=()) for ink in inks.inks
    )


def _draw_progress(
    into: Path, *, design: Design, separation: Separation, inks: tuple[PrintInk, ...], dpi: int
) -> None:
    from blockwright.proof import progress_pictures

    # Packing a picture takes longer than painting it, and lets the next one be painted meanwhile.
    with ThreadPoolExecutor() as pool:
        packing = [
            pool.submit(_write_progress, into, number, picture, dpi=dpi)
            for number, picture in progress_pictures(design, separation, inks, dpi=dpi)
        ]
    for each in packing:
        each.result()
    shutil.copyfile(into / _after(len(separation.impressions)), into / "proof.png")


def _write_progress(into: Path, number: int, picture: NDArray[np.uint8], *, dpi: float) -> None:
    from blockwright.documents.pictures import shrink, write_jpeg
    from blockwright.documents.png import write_png

    write_png(into / _after(number), picture, dpi=dpi)
    write_jpeg(into / _small(number), shrink(picture, most_px=_PACKET_PROOF_PIXELS))


def _after(number: int) -> str:
    return f"after-{number:02d}.png"


def _small(number: int) -> str:
    return f"small-{number:02d}.jpg"


def small_proofs(
    step: Step[Proof], design: Kept[Design], separation: Kept[Separation], inks: Kept[PrintInks]
) -> Step[Proof]:
    """The proof's step with small pictures for the screen instead of those for the bench."""

    def documents(_: Proof) -> list[Document]:
        names = tuple(_small(number) for number in range(len(separation.value.impressions) + 1))
        dpi = min(_SMALL_PROOF_PIXELS / design.value.width_mm * MM_PER_INCH, float(PICTURE_DPI))
        draw = partial(
            _draw_small_progress,
            design=design.value,
            separation=separation.value,
            inks=inks.value.inks,
            dpi=dpi,
        )
        return [Document(names, step.key, draw, 0)]

    return replace(step, documents=documents)


def _draw_small_progress(
    into: Path, *, design: Design, separation: Separation, inks: tuple[PrintInk, ...], dpi: float
) -> None:
    from blockwright.documents.pictures import write_jpeg
    from blockwright.proof import progress_pictures

    for number, picture in progress_pictures(design, separation, inks, dpi=dpi):
        write_jpeg(into / _small(number), picture)


def packet_step(stages: Sequence[Kept[Any]], settings: Settings) -> FileStep:
    """The packet for the bench, put together from what the stages found."""

    def work(path: Path) -> None:
        from blockwright.documents import Packet, write_packet

        design, separation, inks, blocks, cut, proof = (stage.value for stage in stages)
        proofs = stages[5].folder
        write_packet(
            path,
            Packet(
                design=design,
                separation=separation,
                blocks=blocks,
                cut=cut,
                proof=proof,
                settings=settings,
                design_picture=_pixels(stages[0].folder / SMALL_PICTURE),
                proof_picture=(proofs / _small(len(separation.impressions))).read_bytes(),
                progressive=tuple((proofs / _small(e.number)).read_bytes() for e in separation.impressions),
                inks=inks,
                files={face.face: (*bench_files(face.face), *shop_files(face)) for face in cut.faces},
                reliefs=reliefs(blocks, cut, stages[4].folder),
                bits=shelf.bits,
            ),
        )

    shelf = routers_at_hand() if is_routed(settings) else RouterShelf()
    # All that the packet shows follows from the values, and from the picture, on which the first key rests.
    key = make_key(
        version_of("documents", "proof", "data"),
        settings.model_dump(mode="json"),
        stages[0].key,
        [stage.value_hash for stage in stages],
    )
    return FileStep(PACKET, key, work)


def _pixels(path: Path) -> NDArray[np.uint8]:
    from PIL import Image

    with Image.open(path) as opened:
        return np.asarray(opened.convert("RGB"))
