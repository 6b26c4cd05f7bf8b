"""The acts that answer a finding, by its kind: what a printmaker would do about it, one click each."""

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from blockwright.looking import Look
from blockwright.model.settings import USUAL_STOCK, BlocksTable, Stock
from blockwright.web import (
    answers_bits,
    answers_finishes,
    answers_inks,
    answers_key,
    answers_movement,
    answers_overprints,
    answers_part_blocks,
    answers_router,
    answers_sharing,
    words,
)
from blockwright.web.answering import Answer, Asked, Fields, Raw, set_value, take_back

_WORTH_TRYING = (8, 16, 32)
"""Numbers of colours that the finding on flat colours tells the loss for."""

_FEWER = 12
"""Colours to take when the impressions are too many: what one can print in a few days [CP]."""

_CHERRY_MM = 0.25
"""The narrowest line that cherry carries, cut by hand [CP]."""


def _plain(key: str, table: str, name: str, value_mm: float) -> Answer:
    return Answer(words.fmt(key, value=words.mm(value_mm)), set_value(table, name, f"{value_mm:g}"))


# --- Design -------------------------------------------------------------------------------------------------


def _drop(asked: Asked) -> list[Answer]:
    return [Answer(words.TEXTS["answer_drop"], {"act": "add-drop", "at": asked.place})]


def _fill_specks(asked: Asked) -> list[Answer]:
    least = asked.settings.design.least_area_mm2
    said = words.fmt("answer_speck", value=words.area(least))
    return [Answer(said, set_value("design", "speck_mm2", f"{least:g}"))]


def _ask_less_width(asked: Asked) -> list[Answer]:
    """Point at narrower places only: under what cherry carries, or else under half of what is asked now."""
    least = asked.settings.design.least_width_mm
    wanted = _CHERRY_MM if least > _CHERRY_MM else round(least / 2, 3)
    return [_plain("answer_least_width", "design", "least_width_mm", wanted)]


def _try_colours(asked: Asked) -> list[Answer]:
    hexes = [each["hex"] for each in (asked.look.stage("design").told or {"palette": ()})["palette"]]
    tried = [
        Answer(words.fmt("answer_colours", number=number), set_value("design", "colours", number))
        for number in _WORTH_TRYING
        if number != asked.settings.design.colours
    ]
    keep = Answer(words.count("answer_lock", len(hexes)), {"act": "set-palette", "hex": hexes})
    return [*tried, *([keep] if hexes else [])]


def _take_edit_back(asked: Asked) -> list[Answer]:
    """The last hand edit of the finding's kind at its place."""
    kind = str(asked.about.get("edit", ""))
    answers = [
        take_back("design", kind, index)
        for index, edit in enumerate(getattr(asked.settings.design, kind, ()))
        if tuple(asked.finding["at"] or ()) in (edit.at, getattr(edit, "into", None))
    ]
    return answers[-1:]


# --- Separation and proof -----------------------------------------------------------------------------------


def _make_flat(asked: Asked) -> list[Answer]:
    flat = Answer(words.TEXTS["answer_flat"], {"act": "add-gradation", "at": asked.place, "flat": "true"})
    return [*(_print_as_fits(asked) if asked.about.get("way") else []), flat]


def _print_as_fits(asked: Asked) -> list[Answer]:
    """Take back how a gradation is to be printed."""
    return [Answer(words.TEXTS["answer_as_fits"], {"act": "set-gradation-way", "at": asked.place, "way": ""})]


def _fewer_colours(asked: Asked) -> list[Answer]:
    if asked.settings.design.palette is not None:
        # How many holds only where they are to be found.
        return [Answer(words.TEXTS["unlock"], {"act": "set-palette"})]
    return [Answer(words.fmt("answer_fewer", number=_FEWER), set_value("design", "colours", _FEWER))]


def _right_order(asked: Asked) -> list[Answer]:
    order = asked.settings.separation.order
    known = [name for name in order if name != asked.about.get("colour")]
    answers = [Answer(words.TEXTS["order_usual"], {"act": "set-order"})]
    if known and len(known) < len(order):
        answers.insert(
            0, Answer(words.TEXTS["answer_out_of_order"], {"act": "set-order", "names": json.dumps(known)})
        )
    return answers


def _forget_colour(key: str) -> Callable[[Asked], list[Answer]]:
    def answer(asked: Asked) -> list[Answer]:
        entries = getattr(asked.settings.separation, key)
        named = [k for k, each in enumerate(entries) if each.colour == asked.about.get("colour")]
        return [take_back("separation", key, k) for k in named[-1:]]

    return answer


def _make_it_paper(asked: Asked) -> list[Answer]:
    fields = {"act": "add-recolour", "at": asked.place, "to": asked.settings.print.paper.lower(), "here": ""}
    return [Answer(words.TEXTS["answer_paper"], fields)]


def _print_all(asked: Asked) -> list[Answer]:
    """Print every colour that is not the paper's very own, or take a paper that none is lighter than."""
    answers = []
    if asked.settings.separation.paper_within_delta_e00 > 0:
        answers.append(
            Answer(words.TEXTS["answer_print_all"], set_value("separation", "paper_within_delta_e00", "0"))
        )
    if asked.settings.print.paper.lower() != "#ffffff":
        answers.append(Answer(words.TEXTS["answer_white"], set_value("print", "paper", "#ffffff")))
    return answers


def _impression_at(asked: Asked) -> tuple[str, str] | None:
    """Name and predicted colour of the impression that a finding is about, if it is printed."""
    told = asked.look.stage("separation").told or {"impressions": ()}
    ink = answers_inks.ink_of(asked)
    for each in told["impressions"]:
        if each["name"] == asked.about.get("colour"):
            hexes = ink["swatches"][0]["hex"] if ink else each["passes_hex"]
            return each["name"], hexes[min(each["passes"], len(hexes)) - 1]
    return None


def _as_it_prints(asked: Asked) -> list[Answer]:
    """Give the design the colour that the print will have; or print once what is printed more often."""
    found = _impression_at(asked)
    if found is None:
        return []
    name, hex = found
    answers = []
    if any(each.colour.casefold() == name.casefold() and each.times > 1 for each in _passes(asked)):
        fields: Fields = {"act": "set-passes", "colour": name, "times": 1}
        answers.append(Answer(words.TEXTS["answer_once"], fields))
    fields = {"act": "add-recolour", "at": asked.place, "to": hex, "here": ""}
    return [*answers, Answer(words.fmt("answer_as_printed", hex=hex), fields)]


def _nearer(asked: Asked) -> list[Answer]:
    """What brings the ink nearer to the colour; or, where it has a place, the colour to the ink."""
    recolour = [each for each in _as_it_prints(asked) if each.fields["act"] == "add-recolour"]
    return [*answers_inks.nearer(asked), *(recolour if asked.finding["at"] else [])]


def _passes(asked: Asked) -> Sequence[Any]:
    return asked.settings.separation.passes


def _more_trap(asked: Asked) -> list[Answer]:
    trap_mm = asked.about.get("trap_mm")
    return [_plain("answer_trap", "separation", "trap_mm", trap_mm)] if trap_mm else []


# --- Blocks and cutting -------------------------------------------------------------------------------------


def _usual(key: str) -> float:
    return float(BlocksTable.model_fields[key].default)


def _more_wood(asked: Asked) -> list[Answer]:
    """What would do: a larger block, more wood outside the marks, or the hikitsuke nearer to the kagi."""
    answers = []
    if over := asked.about.get("block_over_mm"):
        answers.append(_plain("answer_larger_block", "blocks", "block_over_mm", over))
    if rim := asked.about.get("rim_mm"):
        answers.append(_plain("answer_rim", "blocks", "rim_mm", max(rim, _usual("rim_mm"))))
    if at := asked.about.get("hikitsuke_at"):
        answers.append(_hikitsuke(at))
    return answers


def _hikitsuke(at: float) -> Answer:
    said = words.fmt("answer_hikitsuke", value=f"{at:g}")
    return Answer(said, set_value("blocks", "hikitsuke_at", f"{at:g}"))


def _usual_margin(asked: Asked) -> list[Answer]:
    """The usual margin on the side that the finding is about."""
    return [_plain("answer_margin", "blocks", key, usual_mm) for key, usual_mm in asked.about.items()]


def _room_for_marks(asked: Asked) -> list[Answer]:
    """The margins that would do, and the kagi at the other side."""
    answers = [
        Answer(
            words.fmt("answer_margin_of", side=words.TEXTS[f"margins_{side}"], value=words.mm(wanted)),
            set_value("blocks", f"margin_{side}_mm", f"{wanted:g}"),
        )
        for side in ("left", "right", "top", "bottom")
        if (wanted := asked.about.get(f"margin_{side}_mm"))
    ]
    corner = asked.settings.blocks.kagi_corner
    other = corner.replace("right", "left") if corner.endswith("right") else corner.replace("left", "right")
    said = words.fmt("answer_corner", corner=words.TEXTS[f"corner_{other.replace(' ', '_')}"])
    return [*answers, Answer(said, set_value("blocks", "kagi_corner", other))]


def _shorter_arms(asked: Asked) -> list[Answer]:
    arm = asked.about.get("arm_mm")
    answers = [_plain("answer_arms", "blocks", "arm_mm", arm)] if arm else []
    if asked.settings.blocks.hikitsuke_at != _usual("hikitsuke_at"):
        answers.append(_hikitsuke(_usual("hikitsuke_at")))
    return answers


def _put_board(board: Stock, **changed: Any) -> Fields:
    told = {**board.model_dump(), **changed}
    return {"act": "put-board", **{key: "" if value is None else value for key, value in told.items()}}


def _board_of_size(asked: Asked) -> list[Answer]:
    """A board that holds the block, to the next cm, of the wood of the largest there is."""
    if not {"width_mm", "height_mm"} <= asked.about.keys():
        return []
    largest = max(asked.settings.blocks.stock or USUAL_STOCK, key=lambda each: each.width_mm * each.height_mm)
    width, height = (10 * math.ceil(asked.about[side] / 10) for side in ("width_mm", "height_mm"))
    said = words.fmt("answer_board", width=width, height=height)
    name = f"{largest.wood} {width} x {height}"
    fields = _put_board(largest, name=name, width_mm=width, height_mm=height, grain="along", count=None)
    return [Answer(said, fields)]


def _have_more(key: str) -> Callable[[Asked], list[Answer]]:
    def answer(asked: Asked) -> list[Answer]:
        board = next((b for b in asked.settings.blocks.stock if b.name == asked.about.get("board")), None)
        if board is None:
            return []
        needed = asked.about["count"]
        answers = [
            Answer(words.fmt(key, number=needed), _put_board(board, was=board.name, count=needed)),
            Answer(words.TEXTS["answer_have_any"], _put_board(board, was=board.name, count=None)),
        ]
        if not asked.settings.blocks.both_faces:
            answers.append(Answer(words.TEXTS["answer_both"], set_value("blocks", "both_faces", "true")))
        return answers

    return answer


def _like_the_others(asked: Asked) -> list[Answer]:
    """Take away the way of cutting of a face that does not exist."""
    names = dict.fromkeys(each.face for each in asked.settings.cutting.face)
    return [
        Answer(words.TEXTS["answer_forget_face"], {"act": "set-face-method", "face": name, "method": ""})
        for name in names
        if name == asked.about.get("face")
    ]


_ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "shape-too-small": _drop,
    "many-small-shapes": _fill_specks,
    "many-narrow-places": _ask_less_width,
    "no-flat-colours": _try_colours,
    "edit-misses": _take_edit_back,
    "edit-does-nothing": _take_edit_back,
    "name-twice": _take_edit_back,
    "many-impressions": _fewer_colours,
    "nothing-to-print": _print_all,
    "lighter-than-paper": _make_it_paper,
    "colour-out-of-reach": _as_it_prints,
    "order-unknown-colour": _right_order,
    "passes-unknown-colour": _forget_colour("passes"),
    "trap-unknown-colour": _forget_colour("trap"),
    "colour-far-off": _as_it_prints,
    "register-risk": _more_trap,
    "marks-off-wood": _more_wood,
    "printing-off-block": _more_wood,
    "margin-at-marks": _usual_margin,
    "marks-in-image": _room_for_marks,
    "marks-do-not-fit": _shorter_arms,
    "no-board-big-enough": _board_of_size,
    "boards-short": _have_more("answer_have"),
    "larger-board-taken": _have_more("answer_have_smaller"),
    "face-not-known": _like_the_others,
    "recipe-misses": _nearer,
    "gradation-off": _make_flat,
    "gradation-way": _print_as_fits,
    **answers_bits.ANSWERS,
    **answers_finishes.ANSWERS,
    **answers_inks.ANSWERS,
    **answers_movement.ANSWERS,
    **answers_key.ANSWERS,
    **answers_overprints.ANSWERS,
    **answers_part_blocks.ANSWERS,
    **answers_router.ANSWERS,
    **answers_sharing.ANSWERS,
}
"""By a finding's code, the acts that answer it."""

_WRITTEN_WRONG = {
    "edit-misses",
    "edit-does-nothing",
    "name-twice",
    "order-unknown-colour",
    "passes-unknown-colour",
    "trap-unknown-colour",
    "face-not-known",
    *answers_finishes.WRITTEN_WRONG,
    *answers_inks.WRITTEN_WRONG,
    *answers_key.WRITTEN_WRONG,
    *answers_overprints.WRITTEN_WRONG,
    *answers_part_blocks.WRITTEN_WRONG,
    *answers_sharing.WRITTEN_WRONG,
}
"""Findings on what ``print.toml`` says: it is put right, and not left as it is."""


def answers_to(finding: Raw, look: Look) -> tuple[Answer, ...]:
    """The acts that answer a finding, to leave it as it is being the last of them.

    What stops the work cannot be left, nor what is only written wrong.
    """
    if look.settings is None:
        return ()
    code = finding["code"]
    answer = _ANSWERS.get(code)
    answers = answer(Asked(finding, look, look.settings)) if answer else []
    # A number of an edit holds for the text that the page was made from, and for no other.
    answers = [
        replace(a, fields={**a.fields, "seen": look.text_hash}) if a.fields.get("act") == "take-back" else a
        for a in answers
    ]
    if finding["severity"] != "stop" and code not in _WRITTEN_WRONG:
        at = f"{finding['at'][0]},{finding['at'][1]}" if finding["at"] else ""
        said = words.TEXTS["answer_noted" if finding["severity"] == "note" else "answer_leave"]
        answers.append(Answer(said, {"act": "add-accept", "finding": code, "at": at}))
    return tuple(answers)
