"""What answers findings on the key and on the traps of edges."""

from collections.abc import Callable, Mapping

from blockwright.web import words
from blockwright.web.answering import Answer, Asked, set_value, take_back


def _look_for_key(_: Asked) -> list[Answer]:
    return [
        Answer(words.TEXTS["answer_find_key"], {"act": "set-key", "colour": "found"}),
        Answer(words.TEXTS["answer_no_key"], {"act": "set-key", "colour": "none"}),
    ]


def _forget_key_at(_: Asked) -> list[Answer]:
    return [Answer(words.TEXTS["answer_take_back"], set_value("separation", "key_at", ""))]


def _forget_edge_trap(asked: Asked) -> list[Answer]:
    """The last trap that is set at that place."""
    entries = asked.settings.separation.edge_trap
    there = [k for k, each in enumerate(entries) if f"{each.at[0]},{each.at[1]}" == asked.about.get("at")]
    return [take_back("separation", "edge_trap", k) for k in there[-1:]]


def _drop_or_run_less(asked: Asked) -> list[Answer]:
    answers = [Answer(words.TEXTS["answer_drop"], {"act": "add-drop", "at": asked.place})]
    if {"edge_at", "trap_mm"} <= asked.about.keys():
        trap_mm = asked.about["trap_mm"]
        fields = {"act": "set-edge-trap", "at": asked.about["edge_at"], "mm": trap_mm, "everywhere": ""}
        answers.append(Answer(words.fmt("answer_trap", value=words.mm(trap_mm)), fields))
    return answers


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "key-unknown-colour": _look_for_key,
    "key-misses": _forget_key_at,
    "edge-trap-misses": _forget_edge_trap,
    "shape-smaller-than-trap": _drop_or_run_less,
}
"""By a finding's code, the acts that answer it."""

WRITTEN_WRONG = {"key-unknown-colour", "key-misses", "edge-trap-misses"}
"""Findings on what ``print.toml`` says, which is put right."""
