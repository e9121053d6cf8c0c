"""A bench laid out by hand: one addition in its batch, and what a scale shows of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain.addition import Bench, Do, Evidence, Now, Order, Phase, Seen
from weighd.domain.batch import Batch, Held, Planned, Scale, Tare
from weighd.domain.metrology import Level, Rule, level
from weighd.domain.settling import Finding
from weighd.domain.settling import Phase as Load
from weighd.domain.sights import claim, look

D = Decimal
INTERVAL = D("0.1")
#: When the vessel was tared, and a minute later.
TARED, LATER = "2026-11-27T08:00:00.000Z", "2026-11-27T08:01:00.000Z"
EVIDENCE = Evidence({"shape": "test-lines"}, ({"t": 1.0, "raw": "3433322e34", "grams": "432.4"},))
TARE_READING: Mapping[str, Any] = {"t": 0.5, "raw": "3331322e34", "grams": "312.4"}


def planned(n: int = 1, target: str = "120", off: str = "1", **more: Any) -> Planned:
    """An addition of sugar, ``off`` grams allowed either way."""
    goal, room = D(target), D(off)
    given: dict[str, Any] = {"scale": "bench", **more}
    name = {1: "Sugar", 2: "Salt"}.get(n, f"No. {n}")
    return Planned(n, name.lower(), name, goal, goal - room, goal + room, f"{off} g", **given)


def still(grams: str | Decimal) -> Level:
    """A display that stands still at so many grams."""
    return level([D(grams)] * 4, INTERVAL)


def batch(*additions: Planned, tare: str | None = "312.4", **more: Any) -> Batch:
    """An open batch on one scale, its vessel tared."""
    tares = {} if tare is None else {"bench": Tare(still(tare), (TARE_READING,), TARED)}
    given: dict[str, Any] = {"tares": tares, "n": 3, "after": "ab" * 32, **more}
    return Batch(
        "kitchen-0001",
        {"name": "Test ice"},
        D(122),
        "Ada",
        TARED,
        Rule(),
        {"bench": Scale("bench", "test", INTERVAL, D(6000))},
        additions or (planned(), planned(2, "2", "0.3")),
        **given,
    )


def bench(of: Batch | None = None, now: Now | None = None, **more: Any) -> Bench:
    """The current addition of a batch, ready."""
    of = of or batch(**more)
    assert of.current is not None
    assert of.scale is not None
    return Bench(of, now or Now(Phase.READY), of.current, of.scale, of.tare)


def seen(grams: str | None, load: Load = Load.SETTLED, t: float = 10.0, **more: Any) -> Seen:
    """A display; ``firm`` where it is settled, unless said otherwise. ``finding``: more of that."""
    shown = None if grams is None else D(grams)
    settled = still(shown) if shown is not None and load is Load.SETTLED else None
    found: dict[str, Any] = {"level": settled, "firm": settled is not None}
    finding = Finding(t, load, **{**found, **more.pop("finding", {})})
    return Seen(more.pop("at", LATER), finding, shown, **more)


def shown(grams: str | None, here: Bench | None = None, **more: Any) -> Bench:
    """A bench that shows it."""
    return look(here or bench(), seen(grams, **more))


def poured(net: str, phase: Phase = Phase.JUDGED, here: Bench | None = None, **now: Any) -> Bench:
    """A bench on which an amount stands, judged."""
    here = here or bench()
    assert here.tare is not None
    display = here.tare.level.grams + here.planned.change_g(D(net))
    here = shown(str(display), replace(here, now=replace(here.now, phase=phase)))
    return replace(here, now=replace(here.now, claim=claim(here, LATER), **now))


def held(here: Bench, cause: Any, **more: Any) -> Bench:
    """The same, held."""
    of = replace(here.batch, held=Held(cause, LATER, **more))
    return replace(here, batch=of, now=replace(here.now, phase=Phase.HELD))


def order(do: Do, **more: Any) -> Order:
    """A command of Ada's."""
    return Order(more.pop("at", LATER), do, "Ada", EVIDENCE, **more)
