"""What the station Blocks says of wood and paper that move: its figures in sentences and two small tables."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from blockwright.looking import Look
from blockwright.web import words

_SHOWN_MM = 0.005
"""Less than this, mm, is told as nothing: no rule shows it."""

_SAME_PERCENT = 0.05
"""Moistures nearer than this, points, read the same."""

_MINUS = "\u2212"

Told = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class BoardsMove:
    """Boards that move alike: their names, what they are reckoned as, and how far over the image."""

    names: str
    reckoned: str
    width: str
    height: str


@dataclass(frozen=True, slots=True)
class CornerShown:
    """A corner of the image and how far it lies off, as designed and as drawn."""

    corner: str
    before: str
    left: str


@dataclass(frozen=True, slots=True)
class MovementShown:
    """Sentences and tables; a table or a sentence is empty where there is nothing to say."""

    carving: str
    printing: str
    wood: str
    boards: tuple[BoardsMove, ...]
    sheet: str
    drawn: str
    corners_head: str
    corners: tuple[CornerShown, ...]
    apart: str


def movement_shown(found: Look, face: str) -> MovementShown | None:
    """What there is to say with one face chosen; None while nothing is reckoned."""
    told = found.stage("blocks").told or {}
    moved, settings = told.get("movement"), found.settings
    if not moved or settings is None:
        return None
    blocks = settings.blocks
    own = next((each for each in moved["impressions"] if each["face"] == face), None)
    carving, printing = moved["carving_moisture_percent"], moved["printing_moisture_percent"]
    measured = blocks.carving_moisture_percent is not None, blocks.printing_moisture_percent is not None
    boards = _boards_move(moved["boards"], told["boards"])
    corners = _corners(own["corners"]) if own else ()
    return MovementShown(
        carving=_holds(carving, measured=measured[0]),
        printing=_holds(printing, measured=measured[1]),
        wood=_wood_said(printing - carving, moves=bool(boards)),
        boards=boards,
        sheet=words.fmt(
            "moves_sheet_said",
            width=words.mm(moved["paper_width_mm"]),
            height=words.mm(moved["paper_height_mm"]),
        ),
        drawn=_drawn_said(own, found) if own else "",
        corners_head=words.fmt("moves_corners", face=face),
        corners=corners,
        apart=_apart_said(moved),
    )


def _holds(percent: float, *, measured: bool) -> str:
    if measured:
        return words.TEXTS["moves_holds_measured"]
    return words.fmt("moves_holds", percent=words.figure(percent, 1))


def _wood_said(points: float, *, moves: bool) -> str:
    if abs(points) < _SAME_PERCENT or not moves:
        return words.TEXTS["moves_none"]
    return words.TEXTS["moves_grows" if points > 0 else "moves_shrinks"]


def _length(length_mm: float) -> str:
    """A length to the hundredth of a mm, with its sign."""
    if abs(length_mm) < _SHOWN_MM:
        return words.mm(0.0)
    return ("+" if length_mm > 0 else _MINUS) + words.mm(abs(length_mm))


def _boards_move(moved: Sequence[Told], boards: Sequence[Told]) -> tuple[BoardsMove, ...]:
    """Boards that move, those that do so alike in one row."""
    woods = {board["name"]: board["wood"] for board in boards}
    rows: dict[tuple[str, str, str], list[str]] = {}
    for each in moved:
        if max(abs(each["width_mm"]), abs(each["height_mm"])) >= _SHOWN_MM:
            reckoned = _reckoned(each, woods.get(each["board"], ""))
            row = reckoned, _length(each["width_mm"]), _length(each["height_mm"])
            rows.setdefault(row, []).append(each["board"])
    return tuple(
        BoardsMove(
            names=_named(names, of=len(moved)),
            reckoned=reckoned,
            width=width,
            height=height,
        )
        for (reckoned, width, height), names in rows.items()
    )


def _named(names: list[str], *, of: int) -> str:
    if len(names) == of > 1:
        return words.TEXTS["moves_boards_all"]
    return words.count("moves_boards", len(names), names=words.listed(names))


def _reckoned(moved: Told, wood: str) -> str:
    if moved["own_figure"]:
        return words.TEXTS["moves_as_own"]
    if not moved["reckoned_as"]:
        return words.fmt("moves_as_unknown", wood=wood)
    if moved["reckoned_as"] == "plywood":
        return words.TEXTS["moves_as_plywood"]
    return words.fmt("moves_as", wood=moved["reckoned_as"], cut=moved["cut"])


def _drawn_said(own: Told, found: Look) -> str:
    """How the face's drawing differs from the design; empty when it does not."""
    design = found.stage("design").told
    if design is None:
        return ""
    sides = (("width", "moves_wider", "moves_narrower"), ("height", "moves_taller", "moves_shorter"))
    covered = _covered(own, found, design["figures"])
    said = []
    for side, more, less in sides:
        length_mm = (own[f"scale_{side}"] - 1.0) * covered[side]
        if abs(length_mm) >= _SHOWN_MM:
            said.append(words.fmt(more if length_mm > 0 else less, mm=words.mm(abs(length_mm))))
    if not said:
        return ""
    return words.fmt("moves_drawn_scaled", face=own["face"], how=words.listed(said))


def _covered(own: Told, found: Look, image: Told) -> dict[str, float]:
    """How much of the image a face can print, each way, mm: all of it, or what a part block covers."""
    whole = {side: float(image[f"{side}_mm"]) for side in ("width", "height")}
    told = found.stage("blocks").told or {"boards": ()}
    faces = [face for board in told["boards"] for face in board["faces"] if face["name"] == own["face"]]
    part = faces[0].get("part_block") if faces else None
    if part is None:
        return whole
    left, top, right, bottom = part
    return {
        "width": min(right, whole["width"]) - max(left, 0.0),
        "height": min(bottom, whole["height"]) - max(top, 0.0),
    }


def _off(error_mm: Sequence[float]) -> str:
    """How far a corner lies off, as the print is seen."""
    right, down = error_mm
    ways = (
        (right, "moves_to_right", "moves_to_left"),
        (down, "moves_down", "moves_up"),
    )
    said = [
        words.fmt(more if mm > 0 else less, mm=words.mm(abs(mm)))
        for mm, more, less in ways
        if abs(mm) >= _SHOWN_MM
    ]
    return ", ".join(said) or words.TEXTS["moves_in_place"]


def _corners(corners: Sequence[Told]) -> tuple[CornerShown, ...]:
    """The four corners; none when all are in place either way."""
    shown = tuple(
        CornerShown(_corner(each["corner"]), _off(each["before_mm"]), _off(each["left_mm"]))
        for each in corners
    )
    in_place = words.TEXTS["moves_in_place"]
    return () if all(each.before == each.left == in_place for each in shown) else shown


def _corner(name: str) -> str:
    return words.TEXTS[f"moves_corner_{name.replace(' ', '_')}"]


def _apart_said(moved: Told) -> str:
    """Which two impressions come to lie farthest apart; as designed, where the drawing mends that."""
    for key, said in (("apart_left", "moves_apart"), ("apart_before", "moves_apart_before")):
        apart = moved[key]
        if apart and apart["apart_mm"] >= _SHOWN_MM:
            one, other = (
                f"{n} ({face})" for n, face in zip(apart["impressions"], apart["faces"], strict=True)
            )
            corner = _corner(apart["corner"])
            if not apart.get("of_image", True):
                corner = words.fmt("moves_corner_common", corner=corner)
            return words.fmt(said, one=one, other=other, mm=words.mm(apart["apart_mm"]), corner=corner)
    return words.TEXTS["moves_together"]
