"""The acts that answer what is found about wood and paper that move."""

from collections.abc import Callable, Mapping

from blockwright.web import words
from blockwright.web.answering import Answer, Asked, set_value

_MOST_PERCENT = 0.35
"""What flat-sawn sugar maple moves, the most of the woods that are known: percent of the width a point."""


def _draw_for_it(asked: Asked) -> list[Answer]:
    """Scale the drawings for what will move, where that is not done yet."""
    if asked.settings.blocks.compensate:
        return []
    return [Answer(words.TEXTS["answer_compensate"], set_value("blocks", "compensate", "true"))]


def _reckon_with_more(asked: Asked) -> list[Answer]:
    """Take what the liveliest of the known woods moves, to be on the safe side."""
    if asked.settings.blocks.unknown_wood_percent >= _MOST_PERCENT:
        return []
    fields = set_value("blocks", "unknown_wood_percent", f"{_MOST_PERCENT:g}")
    return [Answer(words.fmt("answer_unknown_wood", percent=f"{_MOST_PERCENT:g}"), fields)]


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "impressions-apart": _draw_for_it,
    "wood-not-known": _reckon_with_more,
}
"""By a finding's code, the acts that answer it."""
