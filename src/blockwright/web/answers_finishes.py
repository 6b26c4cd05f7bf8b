"""The acts that answer a finding about karazuri or leaf."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from blockwright.web import words
from blockwright.web.answering import Answer, Asked, take_back
from blockwright.web.finishes import metals_told


def _take_out(key: str) -> Callable[[Asked], list[Answer]]:
    """Take the entry out that names a colour there is not, or a place outside the image."""

    def answer(asked: Asked) -> list[Answer]:
        entries: Sequence[Any] = getattr(asked.settings.separation, key)
        place = (asked.about.get("x_mm"), asked.about.get("y_mm"))
        meant = [
            k
            for k, each in enumerate(entries)
            if (each.at == place if each.at is not None else each.colour == asked.about.get("colour"))
        ]
        return [take_back("separation", key, k) for k in meant[-1:]]

    return answer


def _another_metal(asked: Asked) -> list[Answer]:
    """Lay leaf that there is in place of the one that there is not, or none."""
    entries = asked.settings.separation.leaf
    meant = [(k, each) for k, each in enumerate(entries) if each.metal == asked.about.get("metal")]
    answers = []
    for k, each in meant[-1:]:
        where = {"colour": each.colour or ""} if each.at is None else {"at": f"{each.at[0]},{each.at[1]}"}
        for metal in metals_told(asked.settings.separation)[:1]:
            fields = {"act": "set-finish", **where, "finish": f"leaf {metal}"}
            answers.append(Answer(words.fmt("answer_metal", metal=metal), fields))
        answers.append(take_back("separation", "leaf", k))
    return answers


def _one_of_both(asked: Asked) -> list[Answer]:
    """Take back the karazuri or the leaf."""
    answers = []
    for key in ("karazuri", "leaf"):
        index = asked.about.get(key)
        if isinstance(index, int) and index < len(getattr(asked.settings.separation, key)):
            fields = take_back("separation", key, index).fields
            answers.append(Answer(words.TEXTS[f"answer_no_{key}"], fields))
    return answers


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "karazuri-unknown-colour": _take_out("karazuri"),
    "karazuri-misses": _take_out("karazuri"),
    "leaf-unknown-colour": _take_out("leaf"),
    "leaf-misses": _take_out("leaf"),
    "leaf-unknown-metal": _another_metal,
    "karazuri-and-leaf": _one_of_both,
}
"""By a finding's code, the acts that answer it."""

WRITTEN_WRONG = {
    "karazuri-unknown-colour",
    "karazuri-misses",
    "leaf-unknown-colour",
    "leaf-misses",
    "leaf-unknown-metal",
}
"""Findings on what ``print.toml`` says: it is put right, and not left as it is."""
