"""The acts that answer what is found about shared faces: together or apart, a mask, a line taken back."""

import json
from collections.abc import Callable, Mapping
from typing import Any

from blockwright.web import words
from blockwright.web.answering import Answer, Asked, Fields, set_value, take_back


def sharing(how: str, *colours: str) -> Fields:
    """The fields that say how colours share faces."""
    return {"act": "set-sharing", "how": how, "colours": json.dumps(colours)}


def _named(asked: Asked) -> list[str]:
    return [str(asked.about[key]) for key in ("colour", "other") if key in asked.about]


def _lines(asked: Asked, key: str, names: list[str], said: str) -> list[Answer]:
    """Take back the lines that name any of these colours, or one of them by ``#rrggbb``."""
    told = (asked.look.stage("separation").told or {"impressions": ()})["impressions"]
    called = {name.casefold() for name in names}
    called |= {each["hex"].casefold() for each in told if each["name"].casefold() in called}
    return [
        take_back("blocks", key, k, words.fmt(said, names=words.listed(list(group.inks))))
        for k, group in enumerate(getattr(asked.settings.blocks, key))
        if any(colour.strip().casefold() in called for colour in group.inks)
    ]


def _share(_: Asked) -> list[Answer]:
    return [Answer(words.TEXTS["answer_share"], set_value("blocks", "share_faces", "true"))]


def _mask_or_free(asked: Asked) -> list[Answer]:
    names = _named(asked)
    mask = Answer(words.TEXTS["answer_mask"], sharing("masked", *names))
    masked = {name.casefold() for name in asked.settings.blocks.masked}
    masks = [] if {name.casefold() for name in names} <= masked else [mask]
    return [*masks, *_lines(asked, "together", names, "answer_not_together")]


def _not_together(asked: Asked) -> list[Answer]:
    return _lines(asked, "together", _named(asked), "answer_not_together")


def _either(asked: Asked) -> list[Answer]:
    return [*_not_together(asked), *_lines(asked, "apart", _named(asked), "answer_not_apart")]


def _forget(asked: Asked) -> list[Answer]:
    """Take the colour that is not printed out of the settings that name it."""
    names = _named(asked)
    answers = [
        *_lines(asked, "together", names, "answer_not_together"),
        *_lines(asked, "apart", names, "answer_not_apart"),
    ]
    if any(each in asked.settings.blocks.masked for each in names):
        answers.append(Answer(words.TEXTS["answer_no_mask"], sharing("unmasked", *names)))
    blocks = asked.settings.blocks
    if any(each in (*blocks.on_part_block, *blocks.on_full_block) for each in names):
        answers.append(Answer(words.TEXTS["answer_on_either"], sharing("on-either", *names)))
    return answers


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "faces-could-share": _share,
    "shared-near": _mask_or_free,
    "cannot-share": _not_together,
    "sharing-contradicts": _either,
    "sharing-unknown-colour": _forget,
}
"""By a finding's code, the acts that answer it."""

WRITTEN_WRONG: frozenset[str] = frozenset({"cannot-share", "sharing-contradicts", "sharing-unknown-colour"})
"""Findings on what ``print.toml`` says: it is put right, and not left as it is."""


def wishes(settings: Any, text_hash: str) -> list[dict[str, Any]]:
    """What was said of colours together and apart, each with the act that takes it back."""
    return [
        {
            "said": words.fmt(f"wish_{key}", names=words.listed(list(group.inks))),
            "fields": {"act": "take-back", "table": "blocks", "key": key, "index": k, "seen": text_hash},
        }
        for key in ("together", "apart")
        for k, group in enumerate(getattr(settings.blocks, key))
    ]
