"""Words of the trade that explain themselves where they stand: the first of each on a page is marked."""

import re

from markupsafe import Markup, escape

from blockwright.web.words_terms import meaning_id, terms


class Explaining:
    """Marks a station's words of the trade in the sentences of one page, each where it first stands.

    A marked word can be reached by key and points at its meaning, which the page also lists.

    >>> say = Explaining("blocks")
    >>> say("The kagi, cut")
    Markup('The <dfn class="term" tabindex="0" aria-describedby="means-kagi">kagi</dfn>, cut')
    >>> say("One kagi & one corner")
    Markup('One kagi &amp; one corner')
    """

    def __init__(self, station: str) -> None:
        self._ids = {
            name: meaning_id(word) for word, _ in terms(station) for name in word.casefold().split(", ")
        }
        self._told: set[str] = set()
        names = sorted(self._ids, key=len, reverse=True)
        self._known = re.compile(rf"\b({'|'.join(map(re.escape, names))})(s|es)?\b", re.IGNORECASE)

    def __call__(self, sentence: str) -> Markup:
        """The sentence, escaped, with the words marked that no sentence before it had."""
        parts, end = [], 0
        for word in self._known.finditer(sentence):
            meaning = self._ids[word[1].casefold()]
            if meaning in self._told:
                continue
            self._told.add(meaning)
            parts += [escape(sentence[end : word.start()]), self._marked(word[0], meaning)]
            end = word.end()
        return Markup("").join([*parts, escape(sentence[end:])])

    @staticmethod
    def _marked(word: str, meaning: str) -> Markup:
        marked = Markup('<dfn class="term" tabindex="0" aria-describedby="{}">{}</dfn>')
        return marked.format(meaning, word)
