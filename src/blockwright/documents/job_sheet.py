"""The job sheet: one page that tells a partner's shop what one face is and what matters about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from blockwright.documents.face_plate import (
    DIMENSION_ROOM_MM,
    draw_sizes,
    draw_zero,
    face_placement,
    mark_corner,
    named_marks,
)
from blockwright.documents.face_turned import turned_by_a_quarter
from blockwright.documents.packet_cautions import CAUTIONS
from blockwright.documents.packet_content import counted, mm_words, time_words
from blockwright.documents.packet_frame import Frame
from blockwright.documents.paper import SHEETS_MM, PaperName
from blockwright.documents.routing_tables import draw_bits
from blockwright.documents.sheet import HAIRLINE, Pen, Picture, Sheet
from blockwright.documents.type import INK, SECONDARY, Align, Rich, Style, fitted, shortened, strong, width_mm
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import FaceCut, Routing
from blockwright.model.router import Bit

_TITLE = Style("semibold", 20.0, 24.0, INK)
_ASIDE = Style("regular", 12.0, 15.0, SECONDARY)
_NAME = Style("semibold", 11.5, 14.5, INK)
_WORDS = Style("regular", 10.2, 13.2, INK)
_NOTE = Style("regular", 9.0, 11.4, SECONDARY)
_MARK = Style("italic", 9.0, 11.0, INK)
_MATTERS = Style("regular", 10.6, 13.8, INK)

_PLAN_SHARE = 0.56
"""How much of the measure the plan of the face takes."""

_PLAN_HEIGHT = 0.33
_SHRINK = 0.97
"""What does not fit the page is set smaller by this, again and again."""

_LEAST = 0.7
_FEW_FILES = 9
"""Up to so many files are told of at length."""

_MOST_FILES = 14
"""Of more files the first are named and the others counted."""

_CONTACT = ("shop", "who cuts it", "telephone or mail", "wanted by")
_CAUTIONS = ("Router", "Wood dust", "Before all else")


@dataclass(frozen=True, slots=True, eq=False)
class JobSheet:
    """What the job sheet of one face shows; nothing is worked out when it is written.

    ``relief`` is the picture of the cut face, of the whole block, without names. ``bits`` are those of the
    set that is used. ``wall_deg`` is how steep walls are, from the face; ``least_mm`` and ``most_mm`` how
    deep the waste is, ``mark_mm`` how deep the marks are. ``files`` are those in the folder, with a few words
    for each.
    """

    title: str
    blocks: BlockSet
    face: Face
    cut: FaceCut
    bits: tuple[Bit, ...]
    relief: Picture
    wall_deg: float
    least_mm: float
    most_mm: float
    mark_mm: float
    files: tuple[tuple[str, str], ...]


def write_job_sheet(path: Path, job: JobSheet, *, paper: PaperName = "A4") -> int:
    """Write the job sheet of a routed face, one page of A4 (or Letter), and return the number of pages: 1.

    What does not fit is set smaller; of more than 14 files the others are counted. Raises ValueError when the
    face is not routed, FolderError when the file cannot be written.
    """
    if job.cut.routing is None:
        raise ValueError(f"{job.cut.face} is not routed")
    width, height = SHEETS_MM["Letter" if paper == "Letter" else "A4"]
    frame = Frame(width, height, left=16.0, top=13.0, foot_room=12.0)
    scale = 1.0
    while scale > _LEAST and _drawn(path, job, frame, scale, write=False) > frame.foot:
        scale *= _SHRINK
    _drawn(path, job, frame, scale, write=True)
    return 1


def _drawn(path: Path, job: JobSheet, frame: Frame, scale: float, *, write: bool) -> float:
    """Draw the page with its type at a scale and return where it ends; ``write`` also writes the file."""
    sheet = Sheet(
        path,
        width_mm=frame.width,
        height_mm=frame.height,
        title=f"{job.title}: {job.face.name}, job sheet",
    )
    y = _draw_all(sheet, job, frame, scale)
    sheet.end_page()
    if write:
        sheet.finish()
    return y


def _draw_all(sheet: Sheet, job: JobSheet, frame: Frame, scale: float) -> float:
    routing = job.cut.routing
    assert routing is not None
    y = _draw_heading(sheet, job, frame)
    plan_width = frame.measure * _PLAN_SHARE
    facts_left = frame.left + plan_width + 6.0
    facts = _draw_facts(sheet, job, routing, facts_left, y, frame.right - facts_left, scale)
    plan = _draw_plan(sheet, job, frame, y, plan_width, scale, turned=routing.quarter_turn)
    y = max(plan, facts) + 2.0
    y = draw_bits(
        sheet,
        routing.work,
        {bit.name: bit for bit in job.bits},
        idle=routing.idle,
        x=frame.left,
        y=y,
        width=frame.measure,
    )
    whole = f"{time_words(routing.router_min)} in all, tool changes included"
    sheet.label(whole, _NOTE, frame.right - 1.0, y + 4.0, align="right")
    y += 6.6
    told = dict.fromkeys(work.held for work in routing.work if work.held)
    for held in told:
        y = sheet.write(held, _NOTE, frame.left, y, frame.measure) + 0.6
    y += 1.6 if told else 0.0
    half = (frame.measure - 8.0) / 2
    left = _draw_list(sheet, "What matters", _matters(job), frame.left, y, half, scale, _MATTERS)
    right = _draw_list(
        sheet, "What was checked", _checked(routing), frame.left + half + 8.0, y, half, scale, _WORDS
    )
    y = max(left, right) + 2.0
    files = _files(job, _WORDS.scaled(scale), half)
    said = dict(CAUTIONS)
    cautions: list[Rich] = [(strong(f"{name}. "), said[name]) for name in _CAUTIONS]
    left = _draw_list(sheet, "In this folder", files, frame.left, y, half, scale, _WORDS)
    right = _draw_list(sheet, "Cautions", cautions, frame.left + half + 8.0, y, half, scale, _WORDS)
    return _draw_contact(sheet, frame, max(left, right) + 2.0)


def _draw_heading(sheet: Sheet, job: JobSheet, frame: Frame) -> float:
    baseline = frame.top + 6.0
    aside = f"job sheet for the router · {job.face.name}"
    room = frame.measure - sheet.text_width(aside, _ASIDE) - 6.0
    style = fitted(job.title, _TITLE, room, lines=1, least=13.0)
    sheet.label(shortened(job.title, style, room), style, frame.left, baseline)
    sheet.label(aside, _ASIDE, frame.right, baseline, align="right")
    sheet.line((frame.left, baseline + 2.6), (frame.right, baseline + 2.6), HAIRLINE)
    return baseline + 6.0


def _draw_plan(
    sheet: Sheet, job: JobSheet, frame: Frame, top: float, width: float, scale: float, *, turned: bool
) -> float:
    """Draw the face as it lies on the machine: its relief, its sizes and the program's zero."""
    blocks, relief = job.blocks.as_on(job.face), job.relief
    if turned:
        blocks, relief = turned_by_a_quarter(blocks), np.ascontiguousarray(np.rot90(relief))
    x0, y0, x1, y1 = blocks.block.bounds
    room = (frame.height * _PLAN_HEIGHT * scale, width - DIMENSION_ROOM_MM)
    box = (frame.left + DIMENSION_ROOM_MM, top, room[1], room[0] - DIMENSION_ROOM_MM)
    placement, per_mm = face_placement(blocks, box, as_seen="carver")
    left, upper = placement.point((x0, y0))
    sheet.picture(relief, left, upper, (x1 - x0) * per_mm, (y1 - y0) * per_mm)
    sheet.box(left, upper, (x1 - x0) * per_mm, (y1 - y0) * per_mm, pen=Pen(0.2, INK))
    y = draw_sizes(sheet, blocks, placement)
    for name, recess in named_marks(blocks, job.face):
        at, baseline, rightward, below = mark_corner(blocks, recess, placement)
        align: Align = "left" if rightward else "right"
        sheet.label(name, _MARK, at, baseline + (3.2 if below else -0.9), align=align)
    draw_zero(sheet, blocks, placement)
    how = ", turned by a quarter to the left;" if turned else ","
    words = f"As it lies on the machine{how} y away from you. Pale: prints, stays untouched."
    return sheet.write(words, _NOTE, frame.left + DIMENSION_ROOM_MM, y, width - DIMENSION_ROOM_MM)


def _draw_facts(
    sheet: Sheet, job: JobSheet, routing: Routing, x: float, y: float, width: float, scale: float
) -> float:
    """Draw what the wood is, where the zero is and how deep it goes."""
    x0, y0, x1, y1 = job.blocks.as_on(job.face).block.bounds
    board = next((each for each in job.blocks.boards if job.face in each.faces), None)
    wood = f"{board.wood}, {mm_words(board.thickness_mm)} mm thick" if board else "not given"
    across = "the longer side" if board is None or board.grain == "along" else "the shorter side"
    corner = "lower left corner of the block"
    if routing.quarter_turn:
        corner = (
            "lay the block down turned by a quarter to the left, as drawn. Zero is its lower left corner as "
            "it lies there"
        )
    facts = (
        ("Block", f"{mm_words(x1 - x0)} × {mm_words(y1 - y0)} mm, {job.face.name}"),
        ("Wood", f"{wood}, grain along {across}"),
        ("Zero", f"{corner}, on its top face. z\u00a0=\u00a00 is the printing surface."),
        (
            "Depth",
            f"{mm_words(job.least_mm)} to {mm_words(job.most_mm)} mm; deepest here "
            f"{routing.deepest_mm:.2f} mm. Marks {job.mark_mm:.2f} mm.",
        ),
        ("Walls", f"lean outwards, {job.wall_deg:.0f}° from the face."),
        ("Machine", f"worked out for {routing.machine}."),
    )
    words, named = _WORDS.scaled(scale), _NAME.scaled(scale)
    for name, told in facts:
        y = sheet.write(name, named, x, y, width)
        y = sheet.write(told, words, x, y, width) + 1.6
    return y


def _files(job: JobSheet, style: Style, width: float) -> list[Rich]:
    """The files with what they are; many of them on one line each."""
    told: list[Rich] = []
    for name, what in job.files[:_MOST_FILES]:
        if len(job.files) > _FEW_FILES:
            short = shortened(name, style, 0.75 * width)
            room = width - width_mm(short, style, "semibold") - 1.0
            told.append((strong(short), shortened(f": {what}", style, room)))
        else:
            told.append((strong(name), f": {what}"))
    if len(job.files) > _MOST_FILES:
        told.append(f"and {counted(len(job.files) - _MOST_FILES, 'more file', 'more files')}.")
    return told


def _matters(job: JobSheet) -> list[Rich]:
    return [
        (strong("Do not touch the printing surface"), " (pale): no clamp, no bit, no sanding. It prints."),
        (
            strong("The marks to 0.1 mm"),
            f", kagi and hikitsuke, walls upright, {job.mark_mm:.2f} mm deep: every colour is laid to them.",
        ),
        (
            strong("Walls lean outwards"),
            ": fine lines stand on them. Do not replace a sloping bit by an upright one.",
        ),
        "Depth in the hollows may be off by a few tenths; shallower beside a printing edge it may not be.",
        "One set-up for the face and its marks. Surface the wood flat first; zero on the surfaced face.",
    ]


def _checked(routing: Routing) -> list[Rich]:
    """What the simulation from the programs' text found."""
    told: list[Rich] = [
        "Simulated from the text of the programs, move by move, with the bits' shapes as given above:"
    ]
    if routing.held_back:
        why = "what was found stops it; see the packet."
        if routing.gouge_mm2 > 0.0:
            why = f"they would cut {routing.gouge_mm2:.2f} mm² of the wood that stays."
        told.append((strong("No program is in this folder"), f": {why}"))
    else:
        told.append(
            "wood that stays: touched nowhere;"
            if routing.gouge_mm2 == 0.0
            else f"wood that stays: touched on {routing.gouge_mm2:.2f} mm²;"
        )
    return [
        *told,
        f"depth: reached on {routing.deep_percent:.1f} % of what the bits reach, too shallow on "
        f"{routing.shallow_mm2:.1f} mm²;",
        f"marks: within {routing.marks_within_mm:.2f} mm of their place.",
        "Nothing else was checked: not the machine, the clamps, the wood or the bits in use.",
    ]


def _draw_list(
    sheet: Sheet,
    name: str,
    entries: Sequence[Rich],
    x: float,
    y: float,
    width: float,
    scale: float,
    style: Style,
) -> float:
    y = sheet.write(name, _NAME.scaled(scale), x, y, width) + 0.4
    for entry in entries:
        y = sheet.write(entry, style.scaled(scale), x, y, width) + 0.7
    return y


def _draw_contact(sheet: Sheet, frame: Frame, y: float) -> float:
    """Blank lines for who does it and by when."""
    part = frame.measure / len(_CONTACT)
    for k, words in enumerate(_CONTACT):
        left = frame.left + k * part
        sheet.line((left, y + 8.0), (left + part - 5.0, y + 8.0), Pen(0.15, INK))
        sheet.label(words, _NOTE, left, y + 11.6)
    return y + 13.0
