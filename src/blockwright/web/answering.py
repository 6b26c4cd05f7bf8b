"""What an answer to a finding is, and what is known when one is sought."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from blockwright.looking import Look
from blockwright.model.settings import Settings
from blockwright.web import words

Fields = Mapping[str, Any]
Raw = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Answer:
    """A button: the fields of an act and what it says; or with ``href`` the way to where it is done."""

    said: str
    fields: Fields
    href: str | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """A finding, and what the print is when it is answered."""

    finding: Raw
    look: Look
    settings: Settings

    @property
    def place(self) -> str:
        """Where it is, as a form sends a place."""
        return f"{self.finding['at'][0]},{self.finding['at'][1]}"

    @property
    def about(self) -> Mapping[str, Any]:
        """What the finding speaks of: names, and settings with the values that would do."""
        return self.finding.get("about") or {}


def set_value(table: str, key: str, value: Any) -> Fields:
    """The fields that set a plain setting."""
    return {"act": "set-value", "table": table, "key": key, "value": value}


def take_back(table: str, key: str, index: int, said: str = "") -> Answer:
    """The answer that takes one of the repeated tables out."""
    fields = {"act": "take-back", "table": table, "key": key, "index": index}
    return Answer(said or words.TEXTS["answer_take_back"], fields)
