"""What the station Blocks says of part blocks: the registration board, its seats, and what can be decided."""

from collections.abc import Mapping
from typing import Any

from blockwright.documents.registration_board import registration_svg
from blockwright.looking import Look
from blockwright.model.settings import Settings
from blockwright.web import words
from blockwright.web.answering import Answer
from blockwright.web.answers_sharing import sharing
from blockwright.web.faces import FaceTold, blocks_now, pictures_version

_LISTS = ("on_part_block", "on_full_block")


def parts_shown(url: str, found: Look, settings: Settings) -> dict[str, Any]:
    """The registration board in sentences and as a picture, and the wishes for part blocks."""
    told = found.stage("blocks").told or {}
    board = told.get("registration_board")
    wishes = [
        {
            "said": words.fmt(f"wish_{key}", names=words.listed(list(names))),
            "fields": sharing("on-either", *names),
        }
        for key in _LISTS
        if (names := getattr(settings.blocks, key))
    ]
    if not board:
        said = words.TEXTS["parts_none"] if settings.blocks.part_blocks else ""
        return {"said": said, "wishes": wishes, "picture": None}
    number = len(board["seats"])
    size = {side: words.figure(board[f"{side}_mm"], 0) for side in ("width", "height")}
    count = "parts_count_one" if number == 1 else "parts_count"
    return {
        "said": words.fmt(count, parts=words.count("parts_on", number), **size),
        "wishes": wishes,
        "picture": f"{url}/registration-board.svg?v={pictures_version(found)}",
        "width": round(board["width_mm"]),
        "height": round(board["height_mm"]),
    }


def seat_said(found: Look, face: FaceTold, settings: Settings) -> str:
    """Where a part block lies on the registration board; empty for a full one."""
    board = (found.stage("blocks").told or {}).get("registration_board")
    seat: Mapping[str, Any] | None = next(
        (each for each in (board or {"seats": ()})["seats"] if each["face"] == face.name), None
    )
    if seat is None:
        return ""
    corner = words.TEXTS[f"corner_{settings.blocks.kagi_corner.replace(' ', '_')}"]
    right, up = (words.mm(length) for length in seat["corner"])
    said = [words.fmt("parts_stands", board=seat["board"], corner=corner, right=right, up=up)]
    if seat["against"]:
        said.append(words.fmt("parts_against", marks=words.listed(seat["against"])))
    if seat["in_the_way"]:
        said.append(words.fmt("parts_in_the_way", boards=words.listed(seat["in_the_way"])))
    return " ".join(said)


def part_choices(face: FaceTold, settings: Settings) -> list[Answer]:
    """How the block of each colour of a face can be decided."""
    named = {key: {name.casefold() for name in getattr(settings.blocks, key)} for key in _LISTS}
    choices = []
    for _, name, _ in face.impressions:
        if not name or not face.mirrored:
            continue
        if any(name.casefold() in names for names in named.values()):
            choices.append(Answer(words.fmt("part_on_either", name=name), sharing("on-either", name)))
        elif face.part:
            choices.append(Answer(words.fmt("part_on_full", name=name), sharing("on-full", name)))
        else:
            choices.append(Answer(words.fmt("part_on_part", name=name), sharing("on-part", name)))
    return choices


def count_said(figures: Mapping[str, Any]) -> list[str]:
    """How many faces there are, and how far fewer could do."""
    # What another version worked out tells nothing of part blocks.
    full, parts = figures.get("full_faces", figures["faces"]), figures.get("part_blocks", 0)
    fewest = figures["faces_lower_bound"]
    boards = words.count("boards", figures["boards"] - parts)
    faces, on_parts = words.count("faces", full), words.count("parts_on", parts)
    if not parts:
        said = words.fmt("faces_are", faces=faces, boards=boards)
    elif not full:
        return [words.fmt("only_parts", parts=on_parts), ""]
    else:
        said = words.fmt("faces_and_parts", faces=faces, boards=boards, parts=on_parts)
    if fewest >= full:
        return [said, words.TEXTS["full_faces_fewest" if parts else "faces_fewest"]]
    if parts:
        return [said, words.fmt("full_faces_open", number=fewest)]
    return [said, words.count("faces_bound_open", fewest)]


def registration_picture(found: Look) -> bytes | None:
    """The registration board as SVG, or None where there is none."""
    blocks = blocks_now(found)
    if blocks is None or blocks.registration is None:
        return None
    return registration_svg(blocks, millimetres=False).encode()
