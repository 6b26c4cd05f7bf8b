"""Findings as the pages show them: a number on the sheet, and the acts that answer them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from blockwright.looking import Look
from blockwright.model.findings import is_accepted
from blockwright.web import words
from blockwright.web.answering import Answer
from blockwright.web.answers import answers_to

_ORDER = {"stop": 0, "warn": 1, "note": 2}


@dataclass(frozen=True, slots=True)
class FindingShown:
    """A finding with its key on the page, its number on the sheet (None without a place) and its answers."""

    key: str
    code: str
    number: int | None
    severity: str
    message: str
    at: tuple[float, float] | None
    about: Mapping[str, Any]
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


def shown(findings: Sequence[Mapping[str, Any]], look: Look, *, stage: str) -> tuple[FindingShown, ...]:
    """The findings of a stage as a page shows them: what stops the work first, then as they were told.

    Those that are left as they are stay away.
    """
    accepted = look.settings.print.accept if look.settings else ()
    open_ones = [f for f in findings if not is_accepted(f["code"], f["severity"], f["at"], accepted)]
    result, number = [], 0
    for k, each in enumerate(sorted(open_ones, key=lambda each: _ORDER.get(each["severity"], 1))):
        at = tuple(each["at"]) if each["at"] else None
        number += at is not None
        result.append(
            FindingShown(
                key=f"{stage}-{k}",
                code=each["code"],
                number=number if at else None,
                severity=each["severity"],
                message=each["message"],
                at=at,
                about=each.get("about") or {},
                answers=answers_to(each, look),
            )
        )
    return tuple(result)


def left_as_they_are(look: Look, *, stage: str) -> list[dict[str, Any]]:
    """What was pointed at in a stage and is left as it is, each with the act that takes that back."""
    left: list[dict[str, Any]] = []
    told = look.accepted_findings(stage)
    for index, entry in enumerate(look.settings.print.accept if look.settings else ()):
        alike = [f for f in told if is_accepted(f["code"], f["severity"], f["at"], [entry])]
        if not alike:
            continue
        said = alike[0]["message"]
        if len(alike) > 1:
            said += " " + words.count("more_alike", len(alike) - 1)
        fields = {
            "act": "take-back",
            "table": "print",
            "key": "accept",
            "index": index,
            "seen": look.text_hash,
        }
        left.append({"said": said, "fields": fields})
    return left
