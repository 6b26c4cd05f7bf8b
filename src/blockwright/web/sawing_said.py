"""How the stock boards are sawn up, as the station Blocks shows it: like boards once, with a drawing."""

from collections.abc import Mapping
from typing import Any

from blockwright.web import words


def sawn_boards(told: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The stock boards in order, those that are sawn alike together: what each gives and what is left."""
    groups: dict[Any, list[Mapping[str, Any]]] = {}
    offcuts = _offcuts(told)
    for board in told.get("stock_boards", ()):
        alike = (
            board["stock"],
            *(tuple(_place(piece)) for piece in board["blocks"]),
            None,
            *(tuple(_place(piece)) for piece in offcuts.get(board["name"], ())),
        )
        groups.setdefault(alike, []).append(board)
    return [_shown(boards, offcuts.get(boards[0]["name"], [])) for boards in groups.values()]


def _offcuts(told: Mapping[str, Any]) -> dict[str, list[Mapping[str, Any]]]:
    found: dict[str, list[Mapping[str, Any]]] = {}
    for piece in told.get("offcuts", ()):
        found.setdefault(piece["stock_board"], []).append(piece)
    return found


def _place(piece: Mapping[str, Any]) -> list[float]:
    return [piece[key] for key in ("x_mm", "y_mm", "width_mm", "height_mm")]


def _size(piece: Mapping[str, Any]) -> str:
    width, height = (words.figure(piece[key], 0) for key in ("width_mm", "height_mm"))
    return words.fmt("sawn_size", width=width, height=height)


def _pieces(names: list[str]) -> str:
    """Blocks by their letters, and what else is sawn by its name."""
    lettered = [name for name in names if name.isupper()]
    others = [words.fmt("sawn_pad", name=name) for name in names if not name.isupper()]
    blocks = [words.count("sawn_blocks", len(lettered), names=words.listed(lettered))] if lettered else []
    return words.listed([*blocks, *others])


def _shown(boards: list[Mapping[str, Any]], offcuts: list[Mapping[str, Any]]) -> dict[str, Any]:
    first = boards[0]
    names = [piece["name"] for board in boards for piece in board["blocks"]]
    said = words.fmt(
        "sawn_one" if len(boards) == 1 else "sawn_many",
        number=len(boards),
        stock=first["stock"],
        blocks=_pieces(names),
    )
    left = [_size(piece) for piece in offcuts]
    rest = words.TEXTS["sawn_nothing"]
    if left:
        rest = words.fmt("sawn_left" if len(boards) == 1 else "sawn_left_each", sizes=words.listed(left))
    return {
        "said": f"{said} {rest}",
        "width": first["width_mm"],
        "height": first["height_mm"],
        "blocks": [dict(zip("xywh", _place(piece), strict=True)) for piece in first["blocks"]],
        "offcuts": [dict(zip("xywh", _place(piece), strict=True)) for piece in offcuts],
    }
