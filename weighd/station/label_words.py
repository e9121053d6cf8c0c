"""The words of a label in the languages that it can have (``labels.language``).

A label is for whoever buys or eats what is in it, so it has the language of the kitchen's country,
not that of the page. Names, allergens and how to keep it are as the kitchen wrote them; dates are
as ISO 8601 has them, the same in each. That a number has a comma in German: CLDR, from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LabelWords:
    """``facts`` gives a fact its word; ``count`` is filled with which, and of how many."""

    facts: Mapping[str, str]
    contains: str
    count: str
    comma: str


#: Facts by the names that the station has for them, as an English label has them.
ENGLISH = (
    "Made",
    "Use by",
    "Best before",
    "Opened",
    "Received",
    "From",
    "Weighed in",
    "Net",
    "Keep",
)
_GERMAN = (
    "Hergestellt",
    "Zu verbrauchen bis",
    "Mindestens haltbar bis",
    "Geöffnet",
    "Erhalten",
    "Von",
    "Eingewogen",
    "Füllmenge",
    "Aufbewahren",
)
LANGUAGES: Mapping[str, LabelWords] = {
    "en": LabelWords(dict(zip(ENGLISH, ENGLISH, strict=True)), "Contains", "{} of {}", "."),
    "de": LabelWords(dict(zip(ENGLISH, _GERMAN, strict=True)), "Enthält", "{} von {}", ","),
}
