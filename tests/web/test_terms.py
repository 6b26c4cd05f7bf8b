"""Words of the trade in the app: each means what the documentation says, and each is explained somewhere."""

import re
from pathlib import Path

import pytest

from blockwright.web.frame import STATIONS
from blockwright.web.words_terms import OF_STATION, TERMS, terms

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "words.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("word", TERMS)
def test_a_word_means_what_the_documentation_says(word: str) -> None:
    rows = dict(re.findall(r"^\| (.+?) \| (.+?) \|$", PAGE, flags=re.MULTILINE))
    assert re.sub(r" \[@[\w-]+\]", "", rows[word]) == TERMS[word]


def test_every_station_explains_its_words_and_every_word_is_explained() -> None:
    assert set(OF_STATION) == set(STATIONS)
    assert {word for station in OF_STATION for word, _ in terms(station)} == set(TERMS)
