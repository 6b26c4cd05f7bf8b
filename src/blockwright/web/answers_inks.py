"""The acts that answer what is found about inks: another number of passes, another pot, other pigments."""

import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from typing import Any

from blockwright import studio
from blockwright.model.errors import BlockwrightError
from blockwright.web import words
from blockwright.web.answering import Answer, Asked, set_value, take_back
from blockwright.web.ink_cards import grams

_PAINTS, _SHELF = "/shelf/paints", "/shelf"


def ink_of(asked: Asked) -> Mapping[str, Any] | None:
    """The ink, as told, of the colour that a finding is about; None while there is none."""
    impressions = (asked.look.stage("separation").told or {"impressions": ()})["impressions"]
    inks = (asked.look.stage("inks").told or {"inks": ()})["inks"]
    named = {each["name"]: each.get("number") for each in impressions}
    number = named.get(asked.about.get("colour"))
    return next((each for each in inks if number is not None and each["impression"] == number), None)


def nearer(asked: Asked) -> list[Answer]:
    """Print it as often as brings it near, or with a mixed ink that is nearer than the recipe."""
    colour, answers = asked.about.get("colour"), []
    if (passes := asked.about.get("passes")) in (2, 3, 4):
        fields = {"act": "set-passes", "colour": colour, "times": passes}
        answers.append(Answer(words.TEXTS[f"answer_passes_{passes}"], fields))
    if ink := ink_of(asked):
        for near in ink["near"][:1]:
            if near["delta_e00"] < ink["delta_e00"]:
                fields = {"act": "set-take", "colour": colour, "shelf": near["number"]}
                fields |= {"times": near["passes"]}
                answers.append(Answer(words.fmt("answer_take", number=near["number"]), fields))
    return answers


def mix_anew(asked: Asked) -> list[Answer]:
    """Mix what no pot can print, and look at the shelf."""
    fields = {"act": "set-take", "colour": asked.about.get("colour"), "shelf": ""}
    number = asked.about.get("ink")
    to = (
        Answer(words.TEXTS["answer_shelf"], {}, _SHELF)
        if number is None
        else Answer(words.fmt("answer_pot", number=number), {}, f"{_SHELF}/ink/{number}")
    )
    return [Answer(words.TEXTS["answer_anew"], fields), to]


def weigh_pot(asked: Asked) -> list[Answer]:
    """The pot's own card, where it is weighed."""
    number = asked.about.get("ink")
    return [Answer(words.fmt("answer_pot", number=number), {}, f"{_SHELF}/ink/{number}")] if number else []


def forget_line(asked: Asked) -> list[Answer]:
    """Take out the lines of ``[[inks.take]]`` and ``[[inks.mix_from]]`` that name no printed colour."""
    answers = []
    for key, said in (("take", "answer_forget_take"), ("mix_from", "answer_forget_mix")):
        entries = getattr(asked.settings.inks, key)
        named = [k for k, each in enumerate(entries) if each.colour == asked.about.get("colour")]
        answers += [take_back("inks", key, k, words.TEXTS[said]) for k in named[-1:]]
    return answers


def strike(asked: Asked) -> list[Answer]:
    """Take a pigment out of the lists that name it, or put it at hand."""
    name = str(asked.about.get("pigment", ""))
    settings = asked.settings.inks
    answers = []
    if _names(settings.pigments, name):
        answers.append(_without(settings.pigments, name, "answer_strike"))
    answers += _for_colours(asked, name, "answer_strike_for")
    return [*answers, Answer(words.TEXTS["answer_shelf"], {}, _SHELF)]


def mix_without(asked: Asked) -> list[Answer]:
    """Mix without a pigment: for the colours that ask for it, and for all the others."""
    name = str(asked.about.get("pigment", ""))
    usual: Sequence[str] = asked.settings.inks.pigments
    if not usual:
        with suppress(BlockwrightError):
            usual = [each.name for each in studio.shelf_pigments()]
    answers = _for_colours(asked, name, "answer_without_for")
    if _names(usual, name) and len(usual) > 1:
        answers.append(_without(usual, name, "answer_without"))
    return answers


def make_known(asked: Asked) -> list[Answer]:
    """Make one's own paints known, or count on mixing to match."""
    answers = [Answer(words.TEXTS["answer_paints"], {}, _PAINTS)]
    if asked.settings.inks.mix != "to match":
        answers.append(Answer(words.TEXTS["answer_match"], set_value("inks", "mix", "to match")))
    return answers


def weigh_surely(asked: Asked) -> list[Answer]:
    """Take a finer scale, or mix a larger batch, where that would do."""
    answers = []
    for key, said in (("scale_g", "answer_scale"), ("least_batch_g", "answer_batch")):
        value = asked.about.get(key)
        if isinstance(value, int | float):
            told = words.fmt(said, grams=grams(float(value)))
            answers.append(Answer(told, set_value("inks", key, value)))
    return answers


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()


def _names(names: Sequence[str], name: str) -> bool:
    return any(_same(each, name) for each in names)


def _without(names: Sequence[str], name: str, said: str) -> Answer:
    left = json.dumps([each for each in names if not _same(each, name)])
    return Answer(words.fmt(said, name=name), {"act": "set-pigments", "pigments": left})


def _for_colours(asked: Asked, name: str, said: str) -> list[Answer]:
    """Strike a pigment from what single colours are mixed from; the last of such lines holds for each."""
    entries = {each.colour: each for each in asked.settings.inks.mix_from}
    return [
        Answer(
            words.fmt(said, name=name, colour=each.colour),
            {
                "act": "set-mix-from",
                "colour": each.colour,
                "pigments": json.dumps([other for other in each.pigments if not _same(other, name)]),
            },
        )
        for each in entries.values()
        if _names(each.pigments, name)
    ]


ANSWERS: Mapping[str, Callable[[Asked], list[Answer]]] = {
    "unknown-shelf-ink": mix_anew,
    "pot-too-small": mix_anew,
    "pot-not-weighed": weigh_pot,
    "inks-unknown-colour": forget_line,
    "unknown-pigment": strike,
    "fugitive-pigment": mix_without,
    "inks-unsure": make_known,
    "rounding-moves-colour": weigh_surely,
    "batch-too-small": weigh_surely,
}
"""By a finding's code, the acts that answer it."""

WRITTEN_WRONG = frozenset({"unknown-shelf-ink", "inks-unknown-colour", "unknown-pigment"})
"""Findings on what ``print.toml`` says: it is put right, and not left as it is."""
