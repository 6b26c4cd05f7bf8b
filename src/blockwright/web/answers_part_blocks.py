"""The acts that answer what is found about part blocks and their registration board."""

from collections.abc import Callable, Mapping

from blockwright.web import words
from blockwright.web.answering import Answer, Asked, set_value
from blockwright.web.answers_sharing import sharing


def _colours(asked: Asked) -> list[str]:
    return [str(asked.about[key]) for key in ("colour", "other") if key in asked.about]


def _one_block(asked: Asked) -> list[Answer]:
    """Each colour on a full block, or all as is best."""
    names = _colours(asked)
    return [
        *(Answer(words.fmt("part_on_full", name=name), sharing("on-full", name)) for name in names),
        Answer(words.TEXTS["answer_on_either"], sharing("on-either", *names)),
    ]


def _forget(asked: Asked) -> list[Answer]:
    return [Answer(words.TEXTS["answer_on_either"], sharing("on-either", *_colours(asked)))]


def _more_wood(asked: Asked) -> list[Answer]:
    """A wider border, if one would do, and no part blocks of its own accord."""
    answers = []
    if border := asked.about.get("part_border_mm"):
        said = words.fmt("answer_border", value=words.mm(border))
        answers.append(Answer(said, set_value("blocks", "part_border_mm", f"{border:g}")))
    answers += [
        Answer(words.fmt("part_on_full", name=name), sharing("on-full", name)) for name in _colours(asked)
    ]
    return answers


def _board_there() -> Answer:
    return Answer(words.TEXTS["answer_board_there"], set_value("blocks", "registration_board", "on hand"))


def _spare_none(asked: Asked) -> list[Answer]:
    there = [_board_there()] if asked.settings.blocks.registration_board == "saw" else []
    none = Answer(words.TEXTS["answer_no_parts"], set_value("blocks", "part_blocks", "false"))
    return [*there, *([none] if asked.settings.blocks.part_blocks else [])]


def _no_board(asked: Asked) -> list[Answer]:
    return [_board_there(), *_spare_none(asked)[1:]]


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "part-contradicts": _one_block,
    "part-not-possible": _forget,
    "part-block-small": _more_wood,
    "part-near-edge": _more_wood,
    "part-blocks-spare-none": _spare_none,
    "registration-board-short": _no_board,
}
"""By a finding's code, the acts that answer it."""

WRITTEN_WRONG: frozenset[str] = frozenset({"part-contradicts", "part-not-possible"})
"""Findings on what ``print.toml`` says: it is put right, and not left as it is."""
