"""Across batches: how well each ingredient is weighed, on which scale and by whom.

What is looked at is the *share*: how far a net lies from its target, in parts of what is allowed on
that side (1 at the upper limit, -1 at the lower). So weighings of different sizes and tolerances
stand on one chart. Parts that need not be exact (all but the last of a split amount, and premixes)
are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import median
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Kind
from weighd.domain.charts import FEW, Chart, bias, capability, chart
from weighd.domain.clock_said import Wall
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import Verdict
from weighd.domain.plan_words import Into
from weighd.domain.record import Entry
from weighd.domain.steps import Step, step_of
from weighd.station.ports import Journal

BY = ("ingredient", "scale", "operator")
#: Acceptances that are looked at where nothing else is said, and at most.
USUAL, MOST = 2_000, 20_000
_GRAM = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Point:
    """One accepted addition; masses in grams."""

    seq: int
    at: str
    batch: str
    addition: int
    ingredient: str
    name: str
    scale: str
    operator: str
    net_g: Decimal
    target_g: Decimal
    low_g: Decimal
    high_g: Decimal
    u_g: Decimal
    verdict: str

    @property
    def off_g(self) -> Decimal:
        """How far the net lies from the target."""
        return self.net_g - self.target_g

    @property
    def share(self) -> float:
        """The same in parts of what is allowed on that side; of the other where that is nothing."""
        return float(self.off_g / self._room(up=self.off_g > 0))

    @property
    def sure(self) -> float:
        """Twice the standard uncertainty, in the same parts."""
        return float(2 * self.u_g / self._room(up=self.off_g > 0))

    def _room(self, *, up: bool) -> Decimal:
        over, under = self.high_g - self.target_g, self.target_g - self.low_g
        return (over or under) if up else (under or over)


def points(journal: Journal, *, since: str = "", until: str = "", last: int = USUAL) -> list[Point]:
    """The newest acceptances, oldest first; ``since`` and ``until`` are days or times (UTC).

    Raises :class:`OperatorError` for a day that is none.
    """
    for name, text in (("since", since), ("until", until)):
        if text and not _is_time(text):
            raise OperatorError(
                "bad-time",
                f'"{text[:40]}" is no day or time.',
                where=name,
                remedy="Write it like 2026-11-26, or 2026-11-26T14:30.",
            )
    # A whole day counts to its end: "~" sorts after every time of it.
    ends = f"{until}~" if until else ""
    out = list[Point]()
    rough = _Rough(journal)
    for entry in journal.newest(str(Kind.ACCEPTED)):
        if Wall.after(entry).newest < since:
            break  # of times in no doubt none before it is later
        if entry.at < since or (ends and entry.at > ends):
            continue
        if not rough.is_rough(entry):
            out.append(_point(entry))
        if len(out) >= last:
            break
    return out[::-1]


class _Rough:
    """Which weighings need not be exact, by the entries that opened their batches.

    Asked of the newest first, so the openings are read backwards too, each once.
    """

    def __init__(self, journal: Journal) -> None:
        self._openings = iter(journal.newest(str(Kind.OPENED)))
        self._known: dict[str, frozenset[int]] = {}

    def is_rough(self, entry: Entry) -> bool:
        batch = entry.body["batch"]
        while batch not in self._known:
            opening = next(self._openings, None)
            if opening is None:
                return False
            rows = opening.body["additions"]
            steps = {one["n"]: step_of(one["step"]) for one in rows if "step" in one}
            rough = frozenset(n for n, step in steps.items() if _may_be_rough(step))
            self._known[opening.body["batch"]] = rough
        return entry.body["addition"] in self._known[batch]


def _may_be_rough(step: Step) -> bool:
    return step.part < step.parts or step.into is Into.PREMIX


def summaries(
    found: Sequence[Point], by: str, prices: Mapping[str, Decimal] | None = None
) -> list[dict[str, Any]]:
    """One summary for each ingredient, scale or operator, those that need a look first.

    ``prices``  of a kilogram, by ingredient. Raises :class:`OperatorError` for no such grouping.
    """
    groups: dict[str, list[Point]] = {}
    for one in found:
        groups.setdefault(key_of(one, by), []).append(one)
    out = [_summary(key, them, by, prices or {}) for key, them in groups.items()]
    return sorted(out, key=lambda it: (it["steady"] is not False, -it["n"], it["key"]))


def key_of(one: Point, by: str) -> str:
    """What a point is grouped by. Raises :class:`OperatorError` for no such grouping."""
    if by not in BY:
        raise OperatorError(
            "unknown-grouping", f'There is no grouping by "{by[:40]}".', where="by", remedy=_LIST
        )
    return str(getattr(one, by))


_LIST = f"Group by {', '.join(BY)}."


def detail(
    found: Sequence[Point], by: str, key: str, prices: Mapping[str, Decimal] | None = None
) -> dict[str, Any]:
    """The summary of one group, and its chart. Raises :class:`OperatorError` for none."""
    them = [one for one in found if key_of(one, by) == key]
    if not them:
        raise OperatorError("none-weighed", f'Nothing was weighed of "{key[:40]}" then.', where=by)
    drawn = [_drawn(one) for one in them]
    seen = _chart(them)
    return {**_summary(key, them, by, prices or {}), "points": drawn, "chart": _chart_json(seen)}


def _summary(
    key: str, them: Sequence[Point], by: str, prices: Mapping[str, Decimal]
) -> dict[str, Any]:
    seen = _chart(them)
    percents = [float(100 * one.off_g / one.target_g) for one in them]
    over = sum((one.off_g for one in them if one.off_g > 0), Decimal(0))
    return {
        "by": by,
        "key": key,
        "name": them[-1].name if by == "ingredient" else key,
        "n": len(them),
        "few": len(them) < FEW,
        "since": them[0].at,
        "until": them[-1].at,
        "off_g": mass.text(sum((one.off_g for one in them), Decimal(0))),
        "over_g": mass.text(over),
        "over_cost": _cost(them, prices),
        "out_of_tolerance": sum(one.verdict != str(Verdict.ON_TARGET) for one in them),
        "sure_share": _number(median(one.sure for one in them)),
        "bias_percent": None if len(them) < 2 else _bias(percents),
        "capability": None if seen is None else _capability(seen),
        "steady": None if seen is None else seen.steady,
        "signals": [] if seen is None else _signals(seen),
    }


def _chart(them: Sequence[Point]) -> Chart | None:
    return chart([one.share for one in them]) if len(them) > 1 else None


def _chart_json(seen: Chart | None) -> dict[str, Any] | None:
    if seen is None:
        return None
    low, high = seen.limits
    return {
        "centre": _number(seen.centre),
        "low": _number(low),
        "high": _number(high),
        "mean_range": _number(seen.mean_range),
        "most_range": _number(seen.most_range),
    }


def _signals(seen: Chart) -> list[dict[str, Any]]:
    return [
        {"rule": str(it.rule), "at": it.at, "since": it.since, "up": it.up} for it in seen.signals
    ]


def _bias(percents: Sequence[float]) -> dict[str, Any]:
    told = bias(percents)
    return {
        "mean": _number(told.mean),
        "low": _number(told.low),
        "high": _number(told.high),
        "sure": told.sure,
    }


def _capability(seen: Chart) -> dict[str, Any]:
    """Against shares of -1 to 1: the limits themselves."""
    told = capability(seen, -1, 1)
    return {name: _number(getattr(told, name)) for name in ("cp", "cpk", "low", "high", "ppk")}


def _cost(them: Iterable[Point], prices: Mapping[str, Decimal]) -> str | None:
    """What was poured above targets cost, as far as prices are known; ``None`` for none known."""
    known = [one for one in them if one.ingredient in prices and one.off_g > 0]
    if not any(one.ingredient in prices for one in them):
        return None
    total = sum((one.off_g * prices[one.ingredient] / 1000 for one in known), Decimal(0))
    return mass.text(mass.rounded(total, _GRAM))


def _drawn(one: Point) -> dict[str, Any]:
    return {
        "seq": one.seq,
        "at": one.at,
        "batch": one.batch,
        "addition": one.addition,
        "ingredient": one.ingredient,
        "scale": one.scale,
        "operator": one.operator,
        "net_g": mass.text(one.net_g),
        "target_g": mass.text(one.target_g),
        "off_g": mass.text(one.off_g),
        "share": _number(one.share),
        "sure": _number(one.sure),
        "verdict": one.verdict,
    }


def _point(entry: Entry) -> Point:
    body = entry.body
    names = ("net_g", "target_g", "low_g", "high_g", "u_g")
    net, target, low, high, u = (mass.parse(body[key]) for key in names)
    return Point(
        entry.seq,
        entry.at,
        body["batch"],
        body["addition"],
        body["ingredient"],
        body["name"],
        body["scale"],
        body["operator"],
        net,
        target,
        low,
        high,
        u,
        str(body["verdict"]),
    )


def _number(value: float) -> float | None:
    """Rounded; JSON has no infinity."""
    return round(value, 4) if abs(value) < 1e9 else None


def _is_time(text: str) -> bool:
    pattern = "0000-00-00T00:00:00"
    return len(text) in (10, 16, 19) and all(
        (a.isascii() and a.isdigit()) if b == "0" else a == b
        for a, b in zip(text, pattern, strict=False)
    )
