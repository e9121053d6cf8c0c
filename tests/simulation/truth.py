"""Whether what is recorded is what was truly weighed: the loads behind the displays are known here.

A display is off by up to half an interval, and by what it trembles; the detector lets pass half an
interval of what a filter still holds back. A net is of two levels, and each moved zero adds two.
What a scale can know is a load: a cook who sets down another vessel and says nothing is not found
out, and such additions are only counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from statistics import median
from typing import Any

from tests.simulation.broken import hold
from tests.simulation.scales import Scale, Shown
from tests.simulation.tally import Tally
from tests.simulation.world import World
from weighd.domain.record import Entry

#: A report is read no later than this after it was sent, milliseconds.
LATE_MS = 3000
#: Fewer readings than this decide nothing.
FEWEST = 2
#: Intervals by which a level may be off: half for its rounding, half for a filter's tail.
LEVEL_D = 1.0
#: Where twice the uncertainty of the weighing allows for more, still never so many.
MOST_D = 3.0


class Truth:
    """Holds entries to the world that they were weighed in."""

    def __init__(self, world: World, tally: Tally) -> None:
        self._world, self._tally = world, tally
        #: Readings of evidence, and the report that each was; ``None`` for one that was misread.
        self._meant: dict[tuple[str, float, str], Shown | None] = {}
        #: Additions of which the cook did not tell the truth.
        self.lies: set[tuple[str, int]] = set()

    def entry(self, entry: Entry) -> None:
        """One more durable entry."""
        body = entry.body
        evidence = body.get("evidence", {})
        if entry.kind == "addition accepted":
            self._meet(body["scale"], evidence["gross"])
            self._accepted(entry)
            return
        if entry.kind == "tared":
            self._meet(body["scale"], evidence["readings"])
            rows = evidence["readings"]
            hold(len(rows) >= FEWEST, "one reading decides nothing", f"entry {entry.seq}")
            self._level(entry, "tare_g", self._world.scales[body["scale"]], rows)

    def _meet(self, name: str, rows: Iterable[Mapping[str, Any]]) -> None:
        scale, base = self._world.scales[name], self._world.base_ms
        for row in rows:
            ms = base + round(row["t"] * 1000)
            shown = scale.meant(ms, Decimal(row["grams"]), LATE_MS)
            self._meant[name, row["t"], row["raw"]] = shown
            if shown is None:
                self._tally.saw("evidence", "a misread report")

    def _shown(self, name: str, rows: Iterable[Mapping[str, Any]]) -> list[Shown]:
        found = (self._meant.get((name, row["t"], row["raw"])) for row in rows)
        return [one for one in found if one is not None]

    def load_g(self, name: str, rows: Iterable[Mapping[str, Any]]) -> float | None:
        """What truly stood there when these readings were taken, grams."""
        shown = self._shown(name, rows)
        return median(one.load_g for one in shown) if shown else None

    def _level(
        self, entry: Entry, field: str, scale: Scale, rows: Iterable[Mapping[str, Any]]
    ) -> None:
        """A level is what the scale truly meant, whatever became of single reports."""
        shown = self._shown(scale.name, rows)
        hold(shown, "a misread byte is no weight", f"entry {entry.seq}: no reading was sent so")
        true = median(one.load_g - one.zero_g for one in shown)
        off = abs(float(entry.body[field]) - true)
        room = (LEVEL_D + scale.make.tremble) * scale.d
        if off > room and "u_g" in entry.body:  # dice that all fell alike: the record allows for it
            self._tally.saw("level", "off by more than its last digits")
            room = min(2 * float(entry.body["u_g"]), MOST_D * scale.d)
        hold(
            off <= room,
            "a level is what was shown",
            f"entry {entry.seq}, {field}: {entry.body[field]} g, truly {true:.3f} g",
        )

    def _accepted(self, entry: Entry) -> None:
        body = entry.body
        name, evidence = body["scale"], body["evidence"]
        scale = self._world.scales[name]
        hold(
            len(evidence["gross"]) >= FEWEST and len(evidence["tare"]) >= FEWEST,
            "one reading decides nothing",
            f"entry {entry.seq}",
        )
        self._level(entry, "gross_g", scale, evidence["gross"])
        tare = self._shown(name, evidence["tare"])
        gross = self._shown(name, evidence["gross"])
        if (body["batch"], body["addition"]) in self.lies:
            self._tally.saw("truth", "the cook did not tell it")
            return
        if len({one.vessel for one in (*tare, *gross)}) != 1:
            self._tally.saw("truth", "another vessel stood there")
            return
        sign = -1 if body.get("method") == "by difference" else 1
        added = sign * (median(it.load_g for it in gross) - median(it.load_g for it in tare))
        off, u = float(body["net_g"]) - added, float(body["u_g"])
        moves = len(body.get("zero_moves", ()))
        room = 2 * (1 + moves) * (LEVEL_D + scale.make.tremble) * scale.d
        if moves:  # one that moved while the display did is known as badly as that: it is told so
            room = max(room, 2 * u)
        for k in (1, 2, 3):
            if abs(off) > k * u:
                self._tally.saw("net", f"off by more than {k} u")
        self._tally.saw("net", "compared with the truth")
        hold(
            abs(off) <= room,
            "a net is what went in",
            f"entry {entry.seq}: {body['net_g']} g, truly {added:.3f} g",
        )
