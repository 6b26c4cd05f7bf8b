"""Findings as the pages show them: a number on the sheet, and the acts that answer them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from blockwright.looking import Look
from blockwright.model.settings import Settings
from blockwright.web import words

_ORDER = {"stop": 0, "warn": 1, "note": 2}

_WORTH_TRYING = (8, 16, 32)
"""Numbers of colours that the finding on flat colours tells the loss for."""

_FEWER = 12
"""Colours to take when the impressions are too many: what one can print in a few days [CP]."""

_MORE_TRAP_MM = 0.2
"""How much more trap is offered where drift would show paper: a step that the eye sees on the block [CP]."""

_MORE_BLOCK_MM = 10.0
"""How much more wood is offered where a mark or the image would lie off the block [CP]."""

Fields = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Answer:
    """A button: the fields of an act and what it says."""

    said: str
    fields: Fields


@dataclass(frozen=True, slots=True)
class FindingShown:
    """A finding with its key on the page, its number on the sheet (None without a place) and its answers."""

    key: str
    number: int | None
    severity: str
    message: str
    at: tuple[float, float] | None
    answers: tuple[Answer, ...]

    def pin(self) -> dict[str, Any]:
        """What ``<sheet-view>`` needs to pin it."""
        return {
            "key": self.key,
            "number": str(self.number),
            "at": self.at,
            "text": self.message,
            "severity": self.severity,
        }


def set_value(table: str, key: str, value: Any) -> Fields:
    """The fields that set a plain setting."""
    return {"act": "set-value", "table": table, "key": key, "value": value}


def _place(finding: Mapping[str, Any]) -> str:
    return f"{finding['at'][0]},{finding['at'][1]}"


def _drop(finding: Mapping[str, Any], _: Settings) -> list[Answer]:
    return [Answer(words.TEXTS["answer_drop"], {"act": "add-drop", "at": _place(finding)})]


def _fill_specks(_: Mapping[str, Any], settings: Settings) -> list[Answer]:
    least = settings.design.least_area_mm2
    said = words.fmt("answer_speck", value=words.area(least))
    return [Answer(said, set_value("design", "speck_mm2", f"{least:g}"))]


def _try_colours(_: Mapping[str, Any], __: Settings) -> list[Answer]:
    return [
        Answer(words.fmt("answer_colours", number=number), set_value("design", "colours", number))
        for number in _WORTH_TRYING
    ]


def _fewer_colours(_: Mapping[str, Any], __: Settings) -> list[Answer]:
    return [Answer(words.fmt("answer_fewer", number=_FEWER), set_value("design", "colours", _FEWER))]


def _more_trap(_: Mapping[str, Any], settings: Settings) -> list[Answer]:
    wanted = round(settings.separation.trap_mm + _MORE_TRAP_MM, 2)
    said = words.fmt("answer_trap", value=words.mm(wanted))
    return [Answer(said, set_value("separation", "trap_mm", f"{wanted:g}"))]


def _usual_order(_: Mapping[str, Any], __: Settings) -> list[Answer]:
    return [Answer(words.TEXTS["order_usual"], {"act": "set-order"})]


def _take_edit_back(finding: Mapping[str, Any], settings: Settings) -> list[Answer]:
    """The hand edits at the finding's place."""
    answers = []
    for key in ("recolour", "merge", "drop", "name"):
        for index, edit in enumerate(getattr(settings.design, key)):
            if finding["at"] and tuple(finding["at"]) in (edit.at, getattr(edit, "into", None)):
                fields = {"act": "take-back", "table": "design", "key": key, "index": index}
                answers.append(Answer(words.TEXTS["answer_take_back"], fields))
    return answers


def _like_the_others(finding: Mapping[str, Any], settings: Settings) -> list[Answer]:
    """Take away the way of cutting of a face that does not exist."""
    names = dict.fromkeys(each.face for each in settings.cutting.face)
    return [
        Answer(words.TEXTS["answer_forget_face"], {"act": "set-face-method", "face": name, "method": ""})
        for name in names
        if f'"{name}"' in finding["message"]
    ]


def _larger_block(_: Mapping[str, Any], settings: Settings) -> list[Answer]:
    wanted = settings.blocks.block_over_mm + _MORE_BLOCK_MM
    said = words.fmt("answer_larger_block", value=words.mm(wanted))
    return [Answer(said, set_value("blocks", "block_over_mm", f"{wanted:g}"))]


def _usual_margin(finding: Mapping[str, Any], settings: Settings) -> list[Answer]:
    """The usual margin on the side that the finding names."""
    usual = type(settings.blocks).model_fields
    return [
        Answer(
            words.fmt("answer_margin", value=words.mm(usual[key].default)),
            set_value("blocks", key, f"{usual[key].default:g}"),
        )
        for side in ("left", "right", "top", "bottom")
        if f"The {side} margin" in finding["message"] and (key := f"margin_{side}_mm")
    ]


_ANSWERS: Mapping[str, Callable[[Mapping[str, Any], Settings], list[Answer]]] = {
    "shape-too-small": _drop,
    "many-small-shapes": _fill_specks,
    "no-flat-colours": _try_colours,
    "many-impressions": _fewer_colours,
    "register-risk": _more_trap,
    "order-unknown-colour": _usual_order,
    "edit-misses": _take_edit_back,
    "edit-does-nothing": _take_edit_back,
    "face-not-known": _like_the_others,
    "marks-off-wood": _larger_block,
    "printing-off-block": _larger_block,
    "margin-at-marks": _usual_margin,
}
"""By a finding's code, the acts that answer it."""


def shown(findings: Sequence[Mapping[str, Any]], look: Look, *, stage: str) -> tuple[FindingShown, ...]:
    """The findings of a stage as a page shows them: what stops the work first, then as they were told."""
    ordered = sorted(findings, key=lambda each: _ORDER.get(each["severity"], 1))
    result, number = [], 0
    for k, each in enumerate(ordered):
        at = tuple(each["at"]) if each["at"] else None
        number += at is not None
        answer = _ANSWERS.get(each["code"])
        answers = answer(each, look.settings) if answer and look.settings else []
        # A number of an edit holds for the text that the page was made from, and for no other.
        answers = [
            replace(a, fields={**a.fields, "seen": look.text_hash}) if a.fields["act"] == "take-back" else a
            for a in answers
        ]
        result.append(
            FindingShown(
                key=f"{stage}-{k}",
                number=number if at else None,
                severity=each["severity"],
                message=each["message"],
                at=at,
                answers=tuple(answers),
            )
        )
    return tuple(result)
