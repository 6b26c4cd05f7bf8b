"""The acts that answer the findings on overprints and on colours that are split."""

from collections.abc import Callable, Mapping

from blockwright.web import words
from blockwright.web.answering import Answer, Asked, set_value, take_back


def _one_a_colour(_: Asked) -> list[Answer]:
    return [Answer(words.TEXTS["answer_one_a_colour"], set_value("separation", "blocks", "one a colour"))]


def _nearer_overprints(asked: Asked) -> list[Answer]:
    """Allow what the worst colour misses, take as many blocks as keep the limits, or one a colour."""
    answers = []
    if asked.settings.separation.block_count is not None:
        answers.append(Answer(words.TEXTS["answer_fewest"], set_value("separation", "block_count", "")))
    elif worst := asked.about.get("worst_delta_e00"):
        said = words.fmt("answer_worst", value=f"{worst:g}")
        answers.append(Answer(said, set_value("separation", "worst_delta_e00", f"{worst:g}")))
    return [*answers, *_one_a_colour(asked)]


def _beyond_reach(asked: Asked) -> list[Answer]:
    """Allow what the worst colour, or the mean, misses, or give every colour a block."""
    answers = []
    if worst := asked.about.get("worst_delta_e00"):
        said = words.fmt("answer_worst", value=f"{worst:g}")
        answers.append(Answer(said, set_value("separation", "worst_delta_e00", f"{worst:g}")))
    if mean := asked.about.get("limit_delta_e00"):
        said = words.fmt("answer_mean", value=f"{mean:g}")
        answers.append(Answer(said, set_value("separation", "limit_delta_e00", f"{mean:g}")))
    return [*answers, *_one_a_colour(asked)]


def _right_count(_: Asked) -> list[Answer]:
    return [Answer(words.TEXTS["answer_fewest"], set_value("separation", "block_count", ""))]


def _more_inks(asked: Asked) -> list[Answer]:
    both = Answer(words.TEXTS["answer_mixes"], set_value("separation", "overprint_inks", "both"))
    return [*([both] if asked.settings.separation.overprint_inks != "both" else []), *_one_a_colour(asked)]


def _take_decision_back(asked: Asked) -> list[Answer]:
    """The last overprint or split that was decided at the finding's place."""
    kind = "split" if asked.finding["code"].startswith("split-") else "overprint"
    answers = [
        take_back("separation", kind, index)
        for index, edit in enumerate(getattr(asked.settings.separation, kind))
        if tuple(asked.finding["at"] or ()) == edit.at
    ]
    return answers[-1:]


def _one_of_both(asked: Asked) -> list[Answer]:
    """Take out the line that cannot be beside another."""
    key = str(asked.about.get("edit"))
    if key == "overprint":
        return _take_decision_back(asked)
    entries = getattr(asked.settings.inks, key)
    named = [k for k, each in enumerate(entries) if each.colour == asked.about.get("colour")]
    return [take_back("inks", key, k) for k in named[-1:]]


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "blocks-saved": _one_a_colour,
    "overprints-miss": _nearer_overprints,
    "overprints-out-of-reach": _beyond_reach,
    "overprint-other-light": _one_a_colour,
    "overprints-none": _more_inks,
    "overprints-no-inks": _more_inks,
    "block-count-not-there": _right_count,
    "overprint-misses": _take_decision_back,
    "overprint-contradicts": _take_decision_back,
    "overprint-ink-contradicts": _one_of_both,
    "split-misses": _take_decision_back,
    "split-name-taken": _take_decision_back,
    "solid-after-solid": _one_a_colour,
}
"""By a finding's code, the acts that answer it."""

WRITTEN_WRONG = {
    "block-count-not-there",
    "overprint-misses",
    "overprint-contradicts",
    "overprint-ink-contradicts",
    "split-misses",
    "split-name-taken",
}
"""Findings on what ``print.toml`` says: it is put right, and not left as it is."""
