"""The acts that answer what is found about a router's programs, from the shelf's own bits and machines."""

import json
import math
from collections.abc import Callable, Mapping, Sequence
from urllib.parse import urlencode

from blockwright.bits import read_routers
from blockwright.model.errors import StudioError
from blockwright.model.router import CLEARING_KINDS, Bit
from blockwright.model.shelf import RouterShelf
from blockwright.web import words
from blockwright.web.answering import Answer, Asked, Fields, set_value

_BOARD_SHARE = 0.5
"""How much of a board's thickness may be cleared away: it is carved on both faces [CP]."""

_WALLS_DEG = (45.0, 70.0)
"""How steep walls may be asked for, degrees from the face."""

_MOST_SETS = 2
"""Other sets of bits that one finding offers."""

_SHELF = "/shelf/bits"


def _shelf() -> RouterShelf:
    try:
        return read_routers()
    except StudioError:
        return RouterShelf((), ())  # The page says that it cannot be read.


def _face(asked: Asked) -> str:
    return str(asked.about.get("face", ""))


def _of_face(asked: Asked, key: str, value: str) -> Fields:
    return {"act": "set-face-router", "face": _face(asked), "key": key, "value": value}


def _take(asked: Asked, bits: Sequence[str]) -> Answer:
    """Rout the finding's face with these bits."""
    said = words.fmt("answer_take_bits", face=_face(asked), bits=words.listed(list(bits)))
    fields = {"act": "set-router-bits", "face": _face(asked), "bits": json.dumps(bits, ensure_ascii=False)}
    return Answer(said, fields)


def _taken(asked: Asked, shelf: RouterShelf) -> list[Bit]:
    """The bits that the finding's face may be routed with now."""
    named = {name.casefold() for name in asked.settings.cutting.for_face(_face(asked)).router.bits}
    return [bit for bit in shelf.bits if not named or bit.name.casefold() in named]


def _clears(bits: Sequence[Bit]) -> bool:
    return any(bit.kind in CLEARING_KINDS for bit in bits)


# --- the answers --------------------------------------------------------------------------------------------


def _look_at_it(asked: Asked) -> list[Answer]:
    """The face in relief, where the finding is pinned."""
    if not asked.finding["at"] or not _face(asked):
        return []
    query = urlencode({"face": _face(asked), "sheet": "relief"})
    return [Answer(words.fmt("answer_in_relief", face=_face(asked)), {}, f"?{query}")]


def _by_hand(asked: Asked) -> list[Answer]:
    fields = {"act": "set-face-method", "face": _face(asked), "method": "hand"}
    return [Answer(words.fmt("answer_by_hand", face=_face(asked)), fields)]


def _other_sets(asked: Asked) -> list[Answer]:
    """The other sets of bits that the face was routed with in thought."""
    told = (asked.look.stage("cutting").told or {}).get("faces", ())
    sets = next((each.get("bit_sets", ()) for each in told if each["face"] == _face(asked)), ())
    now = {bit.name for bit in _taken(asked, _shelf())}
    return [_take(asked, each["bits"]) for each in sets if set(each["bits"]) != now][:_MOST_SETS]


def _walls_of_the_bit(asked: Asked) -> list[Answer]:
    """Walls as steep as the flank of the bit that cuts them, where they are to be otherwise.

    Of several the bluntest cuts them; its flank stands at a right angle less half of its tip's.
    """
    sloping = [bit for bit in _taken(asked, _shelf()) if bit.kind in ("V", "tapered")]
    if not sloping:
        return []
    bit = max(sloping, key=lambda each: each.angle_deg)
    flank_deg = 90.0 - bit.angle_deg / 2.0
    least, most = _WALLS_DEG
    if flank_deg == asked.settings.cutting.router.wall_deg or not least <= flank_deg <= most:
        return []
    said = words.fmt("answer_walls", degrees=f"{flank_deg:g}", bit=bit.name)
    return [Answer(said, set_value("cutting.router", "wall_deg", f"{flank_deg:g}"))]


def _other_bits(asked: Asked) -> list[Answer]:
    return [*_walls_of_the_bit(asked), *_other_sets(asked), *_look_at_it(asked), *_by_hand(asked)]


def _turn_or_change(asked: Asked) -> list[Answer]:
    """Turn the block, take a machine that reaches so far, or travel lower."""
    about, answers = asked.about, []
    if "quarter_turn" in about:
        turn = bool(about["quarter_turn"])
        value = "true" if turn else "false"
        said = words.fmt("answer_turn" if turn else "answer_no_turn", face=_face(asked))
        answers.append(Answer(said, _of_face(asked, "quarter_turn", value)))
        if asked.settings.cutting.router.quarter_turn != turn:
            said = words.TEXTS["answer_turn_all" if turn else "answer_no_turn_all"]
            answers.append(Answer(said, set_value("cutting.router", "quarter_turn", value)))
    if safe_mm := about.get("safe_mm"):
        said = words.fmt("answer_safe", value=words.mm(safe_mm))
        answers.append(Answer(said, set_value("cutting.router", "safe_mm", f"{safe_mm:g}")))
    spans = [about.get(f"{axis}_mm", math.inf) for axis in "xyz"]
    answers += [
        Answer(
            words.fmt("answer_machine", face=_face(asked), machine=machine.name),
            _of_face(asked, "machine", machine.name),
        )
        for machine in _shelf().machines
        if all(span <= reach for span, reach in zip(spans, machine.reach_mm, strict=True))
    ]
    if not answers:
        answers.append(Answer(words.TEXTS["answer_shelf_machine"], {}, _SHELF))
    return answers


def _clear_less(asked: Asked, most_mm: float) -> list[Answer]:
    router = asked.settings.cutting.router
    most_mm = math.floor(most_mm * 10.0) / 10.0
    if not router.least_depth_mm <= most_mm < router.most_depth_mm:
        return []
    said = words.fmt("answer_less_deep", value=words.mm(most_mm))
    return [Answer(said, set_value("cutting.router", "most_depth_mm", f"{most_mm:g}"))]


def _within_the_board(asked: Asked) -> list[Answer]:
    return [*_clear_less(asked, _BOARD_SHARE * asked.about.get("thickness_mm", 0.0)), *_by_hand(asked)]


def _within_the_bit(asked: Asked) -> list[Answer]:
    """Go no deeper than the bit cuts, or leave it out."""
    others = [bit for bit in _taken(asked, _shelf()) if bit.name != asked.about.get("bit")]
    without = [_take(asked, [bit.name for bit in others])] if _clears(others) else []
    return [*_clear_less(asked, asked.about.get("cutting_mm", 0.0)), *without, *_look_at_it(asked)]


def _smaller_bit(asked: Asked) -> list[Answer]:
    """Take the next smaller flat bit of the shelf too, or put one there."""
    shelf = _shelf()
    taken = _taken(asked, shelf)
    least_mm = min((bit.diameter_mm for bit in taken if bit.kind == "flat"), default=math.inf)
    smaller = [bit for bit in shelf.bits if bit.kind == "flat" and bit.diameter_mm < least_mm]
    if not smaller:
        return [Answer(words.TEXTS["answer_shelf_bit"], {}, _SHELF)]
    largest = max(smaller, key=lambda bit: bit.diameter_mm)
    return [_take(asked, [*(bit.name for bit in taken), largest.name])]


def _for_the_marks(asked: Asked) -> list[Answer]:
    return [*_smaller_bit(asked), *_look_at_it(asked)]


def _steeper(asked: Asked) -> list[Answer]:
    """Take a bit that cuts sloping walls, where none is taken; or another set."""
    shelf = _shelf()
    taken = _taken(asked, shelf)
    sloping = [bit for bit in shelf.bits if bit.kind in ("V", "tapered") and bit not in taken]
    if sloping and not any(bit.kind in ("V", "tapered") for bit in taken):
        return [_take(asked, [*(bit.name for bit in taken), sloping[0].name]), *_look_at_it(asked)]
    return [*_walls_of_the_bit(asked), *_other_sets(asked), *_look_at_it(asked)]


def _too_shallow(asked: Asked) -> list[Answer]:
    return [*_walls_of_the_bit(asked), *_smaller_bit(asked), *_look_at_it(asked)]


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "program-cuts-the-face": _other_bits,
    "program-through-the-board": _within_the_board,
    "program-shank-meets-wood": _within_the_bit,
    "program-beyond-the-machine": _turn_or_change,
    "program-rapid-in-the-wood": _other_bits,
    "program-mark-is-off": _for_the_marks,
    "program-leaves-a-mark": _for_the_marks,
    "program-deeper-than-wanted": _steeper,
    "program-leaves-it-shallow": _too_shallow,
}
"""By a finding's code, the acts that answer it."""
