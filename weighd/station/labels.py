"""What stands on the labels of what a batch made, and of goods received.

1. A label says what it is, the lot's code, when it was made and until when to use it, how much is
   in it, how to keep it, its allergens, and who made it. What is not known is left out.
2. Its code names the lot at any station that has it: by the lot's own code, or, where the kitchen
   states a trade number of its own, by a GS1 Digital Link address, or GS1 element strings, with
   both (General Specifications: AI 01, 17 and 10; a lot of at most 20 characters). An ordinary QR
   code cannot mark element strings as such (that takes FNC1, which segno does not write), so that
   a reader elsewhere may take them for text; addresses need no mark.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any
from urllib.parse import quote

from weighd.domain import mass
from weighd.domain.batch import Batch
from weighd.domain.draws import Draw, entered
from weighd.domain.errors import OperatorError
from weighd.domain.label_size import LabelSize, read_label_size
from weighd.station.label_words import LANGUAGES, LabelWords
from weighd.station.made import day_made, in_g, product_of, use_by

#: More labels than these nobody sticks on.
MOST = 500
_ORDER = ("batch", "draws")
_TENTH = Decimal("0.1")
#: Facts with a mass, and the decimal mark in it.
_NUMBERS = ("Net", "Weighed in", "Received")
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
#: What a lot may be made of in GS1 data (character set 82; General Specifications, 7.11).
_GS1_LOT = re.compile(r"""[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]{1,20}""", re.ASCII)
#: How a trade number goes into the code.
GS1_FORMS = ("link", "elements")


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on a label.

    ``facts``      a word and what it is, in order; ``net`` is what is in it, with its unit.
    ``allergens``  empty where none is known.
    ``nth``        which of how many; nothing for a single one.
    ``language``   one of :data:`~weighd.station.label_words.LANGUAGES`; facts have English words
                   here, and their own in :meth:`lines`.
    """

    name: str
    code: str
    facts: tuple[tuple[str, str], ...]
    allergens: tuple[str, ...] = ()
    gtin: str = ""
    use_by: str = ""
    net: str = ""
    storage: str = ""
    station: str = ""
    nth: tuple[int, int] | None = None
    language: str = "en"

    @property
    def _words(self) -> LabelWords:
        return LANGUAGES[self.language]

    @property
    def contains(self) -> str:
        """Its allergens, loud, behind their word; empty where none is known."""
        loud = ", ".join(one.upper() for one in self.allergens)
        return f"{self._words.contains}: {loud}" if loud else ""

    @property
    def count(self) -> str:
        """Which of how many it is; empty for a single one."""
        return self._words.count.format(*self.nth) if self.nth else ""

    @property
    def scanned(self) -> str:
        """What the code holds, a trade number as an address."""
        return self.scanned_as("link")

    def scanned_as(self, form: str) -> str:
        """What the code holds; ``form`` is one of :data:`GS1_FORMS`."""
        if not self.gtin or not _GS1_LOT.fullmatch(self.code):
            return self.code
        if form == "link":
            return f"https://id.gs1.org/01/{self.gtin}/10/{quote(self.code, safe='')}"
        ends = f"17{self.use_by[2:].replace('-', '')}" if self.use_by else ""
        return f"01{self.gtin}{ends}10{self.code}"

    def lines(self) -> list[tuple[str, str]]:
        """The facts, with what is in it and how to keep it, in the label's language."""
        words, more = self._words, [("Net", self.net), ("Keep", self.storage)]
        facts = [*self.facts, *((word, what) for word, what in more if what)]
        return [(words.facts.get(word, word), self._written(word, what)) for word, what in facts]

    def _written(self, word: str, what: str) -> str:
        return _POINT.sub(self._words.comma, what) if word in _NUMBERS else what


def labels_of_batch(
    batch: Batch,
    station: str,
    *,
    of: str = "batch",
    copies: int = 1,
    each: str = "",
    language: str = "en",
) -> list[Label]:
    """Labels of what a batch made, each with its number.

    ``of``    ``batch``, so many ``copies``; or ``draws``, one for each container of each draw.
    ``each``  what is in each, like ``250 g``; without it what was drawn, where that is known, of a
              single label also what was weighed in.
    Raises :class:`OperatorError`: ``not-made``, ``bad-labels``.
    """
    if not batch.accepted or batch.current is not None:
        raise OperatorError("not-made", f"Batch {batch.id} was not weighed to its end.")
    if of not in _ORDER:
        raise _bad("of", f'"{of[:20]}" is nothing that gets labels.', "Say batch or draws.")
    one = replace(_made(batch, station), language=language)
    typed = _mass(each)
    if of == "draws":
        nets = [typed or net for draw in batch.draws.standing for net in _containers(draw)]
        if not nets:
            raise _bad("of", f"Nothing was drawn of batch {batch.id} yet.", "Record a draw first.")
        return _numbered([replace(one, net=net) for net in nets])
    if copies == 1 and not typed:
        return [replace(one, net=_whole(batch), facts=_weighed_in(one, batch))]
    return _numbered([replace(one, net=typed)] * _few(copies))


def labels_of_lot(
    lot: Mapping[str, Any],
    allergens: tuple[str, ...],
    station: str,
    copies: int = 1,
    language: str = "en",
) -> list[Label]:
    """Labels of goods received, by their drawing. Raises :class:`OperatorError`, ``bad-labels``."""
    facts = [
        ("Use by", lot["use_by"]),
        ("Best before", lot["best_before"]),
        ("Opened", lot["opened"][:10]),
        ("Received", f"{lot['received'][:10]}, {lot['quantity_g']}\N{NO-BREAK SPACE}g"),
        ("From", ", ".join(one for one in (lot["supplier"], lot["supplier_lot"]) if one)),
    ]
    one = Label(
        lot["name"],
        lot["lot"],
        tuple((word, what) for word, what in facts if what),
        allergens,
        lot["gtin"],
        lot["use_by"],
        station=station,
        language=language,
    )
    return _numbered([one] * _few(copies))


def chosen_size(text: str) -> LabelSize:
    """A size as somebody wrote it. Raises :class:`OperatorError`, ``bad-labels``."""
    try:
        return read_label_size(text)
    except ValueError as error:
        raise _bad("size", f"{error}.") from error


def draw_labels(labels: list[Label], form: str) -> list[dict[str, Any]]:
    """Labels as JSON values; ``scanned`` is what the code holds."""
    return [
        {
            "name": one.name,
            "code": one.code,
            "facts": [list(fact) for fact in one.lines()],
            "allergens": list(one.allergens),
            "contains": one.contains,
            "station": one.station,
            "count": one.count,
            "nth": list(one.nth) if one.nth else None,
            "scanned": one.scanned_as(form),
        }
        for one in labels
    ]


def proposed(batch: Batch) -> dict[str, Any]:
    """What a form for labels begins with: what was drawn or weighed in, and how many containers."""
    draws = batch.draws.standing
    return {
        "draws": len(draws),
        "containers": sum(one.containers or 1 for one in draws),
        "net": _whole(batch) or _grams(in_g(batch)),
    }


def _made(batch: Batch, station: str) -> Label:
    product, until = product_of(batch), use_by(batch)
    facts = [("Made", day_made(batch)), ("Use by", until)]
    return Label(
        str(batch.formula["name"]),
        batch.id,
        tuple((word, what) for word, what in facts if what),
        batch.allergens,
        str(product.get("gtin", "")),
        until,
        storage=str(product.get("storage", "")),
        station=station,
    )


def _weighed_in(one: Label, batch: Batch) -> tuple[tuple[str, str], ...]:
    """Where nothing was drawn, what went in stands for how much there is."""
    if _whole(batch):
        return one.facts
    return (*one.facts, ("Weighed in", _grams(in_g(batch))))


def _whole(batch: Batch) -> str:
    """All that was drawn, where every draw was weighed."""
    weights = [one.weight for one in batch.draws.standing]
    if not weights or any(one is None for one in weights):
        return ""
    return _grams(sum((one.value for one in weights if one), Decimal(0)))


def _containers(draw: Draw) -> Iterator[str]:
    """What is in each container of a draw: all are filled to the same mark."""
    n = draw.containers or 1
    net = _grams(draw.weight.value / n) if draw.weight is not None else ""
    yield from [net] * n


def _mass(text: str) -> str:
    """A mass that somebody typed, as a label has it. Raises :class:`OperatorError`."""
    if not text.strip():
        return ""
    try:
        return _grams(entered(text, "weight").value)
    except OperatorError as error:
        raise _bad("each", error.message, error.remedy) from error


def _grams(grams: Decimal) -> str:
    return f"{mass.text(mass.short(grams, _TENTH))}\N{NO-BREAK SPACE}g"


def _few(copies: int) -> int:
    if isinstance(copies, bool) or not 1 <= copies <= MOST:
        raise _bad("copies", f"From 1 to {MOST} labels can be printed at a time.")
    return copies


def _numbered(labels: list[Label]) -> list[Label]:
    if len(labels) > MOST:
        raise _bad("copies", f"From 1 to {MOST} labels can be printed at a time.")
    many = len(labels)
    if many == 1:
        return labels
    return [replace(one, nth=(n, many)) for n, one in enumerate(labels, start=1)]


def _bad(where: str, what: str, remedy: str = "Put it right.") -> OperatorError:
    return OperatorError("bad-labels", what, where=where, remedy=remedy)
