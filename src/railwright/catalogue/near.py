"""Names that a person may have meant."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import SequenceMatcher

from railwright.catalogue.entry import Entry

_ALIKE = 0.6  # share of letters in common from which a name is near (common practice, no source)


def near(wanted: str, catalogue: Mapping[str, Entry], most: int = 5) -> list[str]:
    """Names of parts near to one that does not exist, nearest first.

    Case counts for nothing. A part with all of the words in its name, kind, package and options
    is near; so is one whose name or trade type has most of the letters in their order.
    """
    words = wanted.casefold().split()
    scores = {name: _score(words, entry) for name, entry in catalogue.items()}
    found = [name for name, score in scores.items() if score >= _ALIKE]
    return sorted(found, key=lambda name: (-scores[name], name))[:most]


def _score(words: list[str], entry: Entry) -> float:
    """From 0 to 2: from 1 upward all words are there, the more the less else is."""
    names = (entry.name.casefold(), entry.trade.casefold())
    alike = max(SequenceMatcher(None, " ".join(words), name).ratio() for name in names)
    texts = (*names, entry.kind, entry.package.casefold(), *entry.options.values())
    has_all = bool(words) and all(any(word in text for text in texts) for word in words)
    return alike + has_all
