"""Faces that are routed, as part of the cutting stage: programs, their proof, and the folder for the shop."""

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely import get_num_coordinates

from blockwright.bits import chosen_routers
from blockwright.folder import Document
from blockwright.hashing import make_key
from blockwright.model.blocks import BlockSet, Board, Face
from blockwright.model.cut import Cut, FaceCut
from blockwright.model.errors import SettingsError
from blockwright.model.findings import Finding
from blockwright.model.router import Run
from blockwright.model.settings import Settings
from blockwright.model.shelf import RouterShelf
from blockwright.telling import file_name

if TYPE_CHECKING:
    from blockwright.cutting.bit_findings import FaceBits
    from blockwright.cutting.on_machine import Lying
    from blockwright.cutting.routed import Bench
    from blockwright.documents.program import Program, ProgramFacts

MARK_EXTRA_MM = 0.05
"""Marks are cut deeper than the sheet is thick by this, mm [CP]."""

AIR_CUT_MM = 20.0
"""How high above the face an air cut passes, mm [CP]."""

_PACKET_PX = 1200
"""Width of a relief in the packet."""

_MOST_AT_ONCE = 4
"""Faces that are routed at the same time; each takes up to a gigabyte."""

_MUCH = 50_000
"""Drawing from heights is worth a process of its own."""

HEIGHTS, BITS, RELIEF, HANDWORK, JOB, SURFACE = (
    "height.png",
    "bits.png",
    "relief.png",
    "handwork.pdf",
    "job-sheet.pdf",
    "surface.3mf",
)
"""What lies in the shop's folder of a face beside outlines and programs."""


def shop_folder(face: str) -> str:
    """The folder of a routed face, in that of the stage."""
    return f"{file_name(face)}-shop"


def shop_files(cut: FaceCut) -> tuple[str, ...]:
    """The files of a routed face, as they are named from the stage's folder."""
    if cut.routing is None:
        return ()
    programs = tuple(dict.fromkeys(file for work in cut.routing.work for file in work.files if file))
    folder = shop_folder(cut.face)
    air = (f"air-cut-{number}.ngc" for number in range(1, len(programs) + 1))
    names = (*air, JOB, RELIEF, HANDWORK, SURFACE, HEIGHTS, BITS, "outlines.dxf", "outlines.svg")
    return (*programs, *(f"{folder}/{name}" for name in names))


def is_routed(settings: Settings) -> bool:
    """Whether any face may be routed."""
    cutting = settings.cutting
    return cutting.method == "router" or any(face.method == "router" for face in cutting.face)


def route(blocks: BlockSet, cut: Cut, settings: Settings, shelf: RouterShelf, into: Path) -> Cut:
    """Route the faces that are to be, write their programs and heights, and tell what came of it.

    Programs that would harm a face are not written. Raises BitError where bits or machine are not on the
    shelf, SettingsError where none of them clears.
    """
    from blockwright.cutting.bit_findings import FaceBits, told_of_bits

    on = {face.name: board for board in blocks.boards for face in board.faces}

    def one(pair: tuple[Face, FaceCut]) -> tuple[FaceCut, tuple[Finding, ...], FaceBits | None]:
        face, face_cut = pair
        if face_cut.method != "router":
            return face_cut, (), None
        return _route(blocks, face, on[face.name], face_cut, settings, shelf, into)

    pairs = list(zip(blocks.faces, cut.faces, strict=True))
    # What takes longest comes first, so that no face is worked on alone at the end.
    order = sorted(range(len(pairs)), key=lambda k: -get_num_coordinates(pairs[k][1].clear))
    # Offsets and compiled loops release the interpreter; more at once than cores would only take memory.
    with ThreadPoolExecutor(min(os.cpu_count() or 1, _MOST_AT_ONCE)) as pool:
        made = dict(zip(order, pool.map(one, [pairs[k] for k in order]), strict=True))
    done = [made[k] for k in range(len(pairs))]
    of_bits = told_of_bits([bits for _, _, bits in done if bits is not None])
    findings = [*cut.findings, *(finding for _, told, _ in done for finding in told), *of_bits]
    return Cut(tuple(face_cut for face_cut, _, _ in done), tuple(findings))


def _route(
    blocks: BlockSet,
    face: Face,
    board: Board,
    cut: FaceCut,
    settings: Settings,
    shelf: RouterShelf,
    into: Path,
) -> "tuple[FaceCut, tuple[Finding, ...], FaceBits]":
    from blockwright.cutting.bit_findings import FaceBits
    from blockwright.cutting.last_bit import last_bits
    from blockwright.cutting.proving import check_program
    from blockwright.cutting.reading_program import read_program
    from blockwright.cutting.routed import choice, choices, routing_of, wanted_of
    from blockwright.cutting.routing import route_face
    from blockwright.documents.height_png import write_height_png
    from blockwright.documents.png import write_png
    from blockwright.documents.program import write_program

    table = settings.cutting.for_face(face.name)
    bench = _set_up(blocks, face, board, settings, shelf)
    wanted = wanted_of(blocks, face, board, cut, bench)
    facts = _facts(settings.print.title, face, board, wanted.lying)
    routed = route_face(blocks, face, cut.clear, bench.tools, bench.manner)
    runs = [wanted.lying.on_machine(run) for run in routed.runs]
    programs = write_program(runs, bench.machine, facts)
    proof = check_program(
        [program.text for program in programs],
        wanted,
        bench.bits,
        bench.machine,
        slack_mm=table.router.depth_slack_mm,
    )
    each_bit = [read_program(write_program([run], bench.machine, facts)[0].text) for run in routed.runs]
    others = []
    for tools, other in choices(blocks, face, cut, bench, routed):
        texts = [read_program(each.text) for each in write_program(other.runs, bench.machine, facts)]
        others.append(choice(tools, other, texts, bench.machine, table))
    folder = into / shop_folder(face.name)
    folder.mkdir(exist_ok=True)
    held_back = not proof.may_be_handed_over
    files = [] if held_back else _write(folder, runs, programs, bench, facts)
    routing = routing_of(
        face,
        board,
        bench,
        routed,
        proof,
        [
            (read_program(program.text), tuple(bit.name for bit in program.bits), file)
            for program, file in zip(programs, files or [""] * len(programs), strict=True)
        ],
        others,
        table,
    )
    last = last_bits(each_bit, {bit.number: bit for bit in bench.bits}, wanted.block)
    write_png(folder / BITS, np.repeat(last[:, :, None], 3, axis=2))
    write_height_png(
        folder / HEIGHTS, np.ascontiguousarray(proof.surface.heights[::-1]), step_mm=proof.surface.step_mm
    )
    bits = FaceBits(bench.machine, bench.tools, bench.manner, replace(routed, ground=None))
    return replace(cut, routing=routing, minutes=routing.hand_min), proof.findings, bits


def check_texts(
    blocks: BlockSet, cut: Cut, name: str, texts: Sequence[str], settings: Settings, shelf: RouterShelf
) -> tuple[tuple[Finding, ...], dict[str, float]]:
    """Check programs for a face that someone has written or changed, as our own are checked.

    Findings, and figures with their units. Raises SettingsError where there is no such face, BitError where
    a bit is not on the shelf, ProgramError where a text cannot be read.
    """
    from blockwright.cutting.proving import check_program
    from blockwright.cutting.routed import wanted_of

    found = next((pair for pair in zip(blocks.faces, cut.faces, strict=True) if pair[0].name == name), None)
    if found is None:
        names = ", ".join(face.name for face in blocks.faces)
        raise SettingsError(f'There is no face "{name}"; the faces are {names}.')
    face, face_cut = found
    board = next(board for board in blocks.boards if face in board.faces)
    bench = _set_up(blocks, face, board, settings, shelf)
    proof = check_program(
        texts,
        wanted_of(blocks, face, board, face_cut, bench),
        bench.bits,
        bench.machine,
        slack_mm=settings.cutting.router.depth_slack_mm,
    )
    return proof.findings, {
        "moves": proof.moves,
        "gouge_mm2": proof.gouge_mm2,
        "shallow_mm2": proof.shallow_mm2,
        "reachable_mm2": proof.reachable_mm2,
        "deepest_mm": proof.deepest_mm,
    }


def _set_up(blocks: BlockSet, face: Face, board: Board, settings: Settings, shelf: RouterShelf) -> "Bench":
    """Machine and bits for a face, as the print says it for this face or for all."""
    from blockwright.cutting.routed import set_up

    table, said_at = settings.cutting.for_face(face.name), partial(settings.cutting.said_at, face.name)
    depth = max((kento.depth_mm for kento in blocks.marks_of(face)), default=0.0)
    bits, machine = chosen_routers(shelf, table.router, said_at=said_at)
    return set_up(board, depth + MARK_EXTRA_MM, table, bits, machine, bits_at=said_at("bits"))


def _facts(title: str, face: Face, board: Board, lying: "Lying") -> "ProgramFacts":
    from blockwright.documents.program import ProgramFacts

    width_mm, height_mm = lying.size_mm
    return ProgramFacts(
        title=title,
        face=face.name,
        wood=board.wood,
        width_mm=width_mm,
        height_mm=height_mm,
        thickness_mm=board.thickness_mm,
        quarter_turn=lying.quarter_turn,
    )


def _write(
    folder: Path,
    runs: "Sequence[Run]",
    programs: "tuple[Program, ...]",
    bench: "Bench",
    facts: "ProgramFacts",
) -> list[str]:
    """Write the programs and the air cut of each; their names, as from the stage's folder."""
    from blockwright.documents.program import write_program

    air = write_program(runs, bench.machine, facts, air_cut_mm=AIR_CUT_MM)
    names = []
    for number, (program, above) in enumerate(zip(programs, air, strict=True), start=1):
        name = f"program-{number}.ngc" if len(programs) > 1 else "program.ngc"
        (folder / name).write_text(program.text, encoding="ascii", newline="\n")
        (folder / f"air-cut-{number}.ngc").write_text(above.text, encoding="ascii", newline="\n")
        names.append(f"{folder.name}/{name}")
    return names


def reliefs(blocks: BlockSet, cut: Cut, stage: Path) -> dict[str, NDArray[np.uint8]]:
    """The picture of each routed face for the packet, with what is left to the hand laid over it."""
    from blockwright.documents.height_png import read_heights
    from blockwright.documents.relief import paint_relief

    painted = {}
    for face, face_cut in zip(blocks.faces, cut.faces, strict=True):
        if face_cut.routing is None:
            continue
        heights, scale = read_heights(stage / shop_folder(face.name) / HEIGHTS)
        painted[face.name] = paint_relief(
            heights, blocks, face, face_cut, step_mm=scale.mm_per_pixel, width_px=_PACKET_PX, handwork=True
        )
    return painted


def shop_documents(
    blocks: BlockSet, cut: Cut, settings: Settings, shelf: RouterShelf, *, key: str
) -> list[Document]:
    """What is drawn into the shop's folder of each routed face, from the heights that lie there."""
    drawn: list[Document] = []
    on = {face.name: board for board in blocks.boards for face in board.faces}
    for face, face_cut in zip(blocks.faces, cut.faces, strict=True):
        if face_cut.routing is None:
            continue
        folder = shop_folder(face.name)
        one = replace(
            blocks.as_on(face),
            boards=(replace(on[face.name], faces=(face,)),),
            findings=(),
            registration=blocks.registration,
        )
        for names, draw in (
            ((RELIEF,), _draw_relief),
            ((HANDWORK,), _draw_handwork),
            ((JOB,), _draw_job),
            ((SURFACE,), _draw_surface),
            (("outlines.dxf", "outlines.svg"), _draw_outlines),
        ):
            drawn.append(
                Document(
                    tuple(f"{folder}/{name}" for name in names),
                    make_key(key, face.name, names),
                    partial(draw, blocks=one, cut=face_cut, settings=settings, shelf=shelf),
                    _MUCH,
                )
            )
    return drawn


def _draw_relief(
    into: Path, *, blocks: BlockSet, cut: FaceCut, settings: Settings, shelf: RouterShelf
) -> None:
    from blockwright.documents.height_png import read_heights
    from blockwright.documents.relief import write_relief

    del settings, shelf
    (face,) = blocks.faces
    place = into / shop_folder(face.name)
    heights, scale = read_heights(place / HEIGHTS)
    write_relief(place / RELIEF, heights, blocks, face, cut, step_mm=scale.mm_per_pixel)


def _draw_handwork(
    into: Path, *, blocks: BlockSet, cut: FaceCut, settings: Settings, shelf: RouterShelf
) -> None:
    from blockwright.documents.handwork_map import write_handwork_map

    del shelf
    (face,) = blocks.faces
    table = settings.cutting
    write_handwork_map(
        into / shop_folder(face.name) / HANDWORK,
        blocks,
        face,
        cut,
        paper=table.paper,
        roll_mm=table.roll_mm,
        overlap_mm=table.overlap_mm,
        title=settings.print.title,
    )


def _draw_job(into: Path, *, blocks: BlockSet, cut: FaceCut, settings: Settings, shelf: RouterShelf) -> None:
    from blockwright.documents.height_png import read_heights
    from blockwright.documents.job_sheet import JobSheet, write_job_sheet
    from blockwright.documents.relief import paint_relief

    (face,) = blocks.faces
    routing = cut.routing
    assert routing is not None
    place = into / shop_folder(face.name)
    heights, scale = read_heights(place / HEIGHTS)
    used = {work.bit for work in routing.work}
    depth = max((kento.depth_mm for kento in blocks.marks_of(face)), default=0.0)
    router = settings.cutting.for_face(face.name).router
    job = JobSheet(
        title=settings.print.title,
        blocks=blocks,
        face=face,
        cut=cut,
        bits=tuple(bit for bit in shelf.bits if bit.name in used),
        relief=paint_relief(heights, blocks, face, cut, step_mm=scale.mm_per_pixel, named=False),
        wall_deg=router.wall_deg,
        least_mm=router.least_depth_mm,
        most_mm=router.most_depth_mm,
        mark_mm=depth + MARK_EXTRA_MM,
        files=_files_said(
            cut, f"heights: {scale.mm_per_pixel:g} mm a pixel, black {scale.black_mm:g} mm deep"
        ),
    )
    write_job_sheet(place / JOB, job, paper="Letter" if settings.cutting.paper == "Letter" else "A4")


def _files_said(cut: FaceCut, heights: str) -> tuple[tuple[str, str], ...]:
    """The files in a shop's folder, by their names alone, and what each is."""
    words = {
        "outlines.dxf": "outlines in mm",
        "outlines.svg": "the same, as a drawing",
        SURFACE: "the cut block, a closed body",
        HEIGHTS: heights,
        RELIEF: "a picture of the cut face",
        HANDWORK: "what is left to the hand, 1:1",
    }
    said = []
    for file in shop_files(cut):
        name = file.rpartition("/")[2]
        if name.startswith("air-cut"):
            said.append((name, "the same moves in the air"))
        elif name.endswith(".ngc"):
            bits = [work.bit for work in (cut.routing.work if cut.routing else ()) if file in work.files]
            said.append((name, f"program: {', '.join(bits)}"))
        elif name in words:
            said.append((name, words[name]))
    return tuple(said)


def _draw_surface(
    into: Path, *, blocks: BlockSet, cut: FaceCut, settings: Settings, shelf: RouterShelf
) -> None:
    from blockwright.documents.height_png import read_heights
    from blockwright.documents.surface_3mf import write_surface_3mf

    del cut, shelf
    (board,) = blocks.boards
    (face,) = board.faces
    place = into / shop_folder(face.name)
    heights, scale = read_heights(place / HEIGHTS)
    write_surface_3mf(
        place / SURFACE,
        heights,
        step_mm=scale.mm_per_pixel,
        thickness_mm=board.thickness_mm,
        face=face.name,
        title=settings.print.title,
    )


def _draw_outlines(
    into: Path, *, blocks: BlockSet, cut: FaceCut, settings: Settings, shelf: RouterShelf
) -> None:
    from blockwright.documents import write_face_dxf, write_face_svg

    del settings, shelf
    (face,) = blocks.faces
    place = into / shop_folder(face.name)
    write_face_dxf(place / "outlines.dxf", blocks, face, cut)
    write_face_svg(place / "outlines.svg", blocks, face, cut)
