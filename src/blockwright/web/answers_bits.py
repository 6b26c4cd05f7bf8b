"""The acts that answer what is found about the router's bits: do without them, or see them on the shelf."""

import json
from collections.abc import Callable, Mapping

from blockwright.web import words
from blockwright.web.answering import Answer, Asked

_SHELF = "/shelf/bits"


def _without(asked: Asked) -> list[Answer]:
    """Choose the bits of the set that are left, where any of them clears."""
    try:
        left = json.loads(str(asked.about.get("bits", "[]")))
    except ValueError:
        return []
    if not left:
        return []
    said = words.fmt("answer_bits", bits=words.listed([str(each) for each in left]))
    return [Answer(said, {"act": "set-router-bits", "bits": json.dumps(left, ensure_ascii=False)})]


def _another(asked: Asked) -> list[Answer]:
    """Do without it, or mend it or put another one on the shelf."""
    return [*_without(asked), Answer(words.TEXTS["answer_bits_shelf"], {}, _SHELF)]


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "bit-too-large": _another,
    "bit-not-needed": _without,
    "bit-rubs": _another,
}
"""By a finding's code, the acts that answer it."""
