"""Entries of a batch made by hand, and what a batch should be after one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.domain.bench_world import LATER
from weighd.domain.batch import Batch
from weighd.domain.corrections import Drew, Written
from weighd.domain.fold import evolve
from weighd.domain.record import Entry, Tail, seal

BUDGET = {"rounding": "0.03", "spread": "0.04"}
#: An acceptance, as far as a batch reads it.
ACCEPTED = {
    "addition": 1,
    "ingredient": "sugar",
    "net_g": "120.3",
    "deviation_g": "0.3",
    "verdict": "on target",
    "reason": "",
    "lot": "S-1",
    "scale": "bench",
    "gross_g": "432.7",
    "gross_u_g": "0.05",
    "gross_budget": BUDGET,
    "u_g": "0.07",
    "budget": {**BUDGET, "creep": "0.02"},
    "evidence": {"gross": [{"t": 8}], "tare": [], "decoder": {}},
    "operator": "Ada",
}


def entry_of(of: Batch, kind: str, /, **body: Any) -> Entry:
    """The next entry of a batch."""
    whole = {**body, "batch": of.id, "n": of.n + 1, "after": of.after}
    return seal("test", kind, LATER, whole, Tail(of.n + 20, of.after))


def changed(of: Batch, kind: str, /, **body: Any) -> tuple[Entry, Batch]:
    entry = entry_of(of, kind, **body)
    return entry, evolve(of, entry)


def but(of: Batch, entry: Entry, **changes: Any) -> Batch:
    """The same batch, one entry later, with what is named changed and nothing else."""
    return replace(of, n=of.n + 1, after=entry.hash, **changes)


def wrote(entry: Entry, drew: dict[str, Drew] | None = None, **fields: str) -> Written:
    named = {name.replace("_", " "): text for name, text in fields.items()}
    return Written(entry.body["n"], entry.hash, entry.kind, LATER, named, drew or {})
