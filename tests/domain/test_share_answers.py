"""What weighings make of those still to come, planned ones above all: all figures, as they are.

``fixtures/tables/shares.txt`` has them, after each acceptance; what they should be is checked in
``test_plan_parts`` and by the planned batches of ``tests/station``.
``python -m tests.domain.test_share_answers`` writes the file anew, to be read.
"""

from __future__ import annotations

from decimal import Decimal
from functools import partial

from tests.domain.answering import answer
from tests.domain.kept import Kept
from tests.domain.test_damages import NAMES, golden
from tests.domain.test_reckoned import figures
from tests.station.planned_kitchen import ICE, PREMIX, SPLIT, TWO, Kitchen
from weighd.domain.as_weighed import parts_of
from weighd.domain.batch import Batch, Kind, Planned
from weighd.domain.fold import evolve, opened
from weighd.domain.metrology import expected_budget
from weighd.domain.record import Entry
from weighd.domain.shares import as_weighed, carried, inside_g
from weighd.domain.tipping import expected, sums_as_json

KEPT = Kept("shares.txt")


def planned() -> list[tuple[str, tuple[Entry, ...]]]:
    """Batches with a plan, weighed to their end."""
    out = []
    coarse = {"bench": ("0.1", "3000")}
    for name, text, scales in (
        ("ice", ICE, TWO),
        ("split", SPLIT, TWO),
        ("premix", PREMIX, TWO),  # none is needed: the fine scale will do
        ("premix on one scale", PREMIX, coarse),
    ):
        kitchen = Kitchen(text, scales)
        kitchen.follow()
        out.append((name, tuple(kitchen.hand.journal)))
    return out


def coming(one: Planned) -> str:
    grams = " ".join(f"{it:.10g}" for it in (one.target_g, one.low_g, one.high_g))
    return f"{one.n} {one.ingredient} {grams} on {one.scale}"


def told(batch: Batch) -> str:
    """Everything that follows from what is in."""
    done = len(batch.accepted)
    rows = [", ".join(coming(one) for one in batch.additions[done:])]
    rows.append(figures(as_weighed(batch.additions, batch.accepted)))
    rows.append(answer(partial(parts_of, batch), in_parts))
    rows.append(figures(sums_as_json(batch)))
    due = expected(batch)
    rows.append("nothing due" if due is None else figures((due.level, due.tipped_g)))
    for one in batch.additions[done:]:
        budget = expected_budget(batch.scales[one.scale].interval_g)
        for net in (one.target_g, one.target_g + Decimal(5)):
            more = carried(one, batch.additions, batch.accepted, net, budget)
            before = inside_g(one, batch.additions, batch.accepted)
            rows.append(f"{one.n} {figures((net, more, before))}")
    return " | ".join(rows)


def in_parts(parts: object) -> str:
    assert isinstance(parts, tuple)
    return ", ".join(
        f"{one.of} {one.ingredient.id} {figures((one.planned_g, one.in_g, one.u_g, one.to_come_g))}"
        for one in parts
    )


def lines() -> list[str]:
    out = []
    for name, entries in (*planned(), *((one, golden(one)) for one in NAMES)):
        batch: Batch | None = None
        for entry in entries:
            if entry.kind == Kind.OPENED and batch is None:
                batch = opened(entry)
            elif batch is None or entry.body.get("batch") != batch.id:
                continue
            else:
                batch = evolve(batch, entry)
            if entry.kind in (Kind.OPENED, Kind.ACCEPTED, Kind.PUT_RIGHT) and batch.additions:
                out.append(f"{name} | {batch.n} {entry.kind} | {told(batch)}")
    return out


def test_what_is_in_makes_of_the_rest_what_it_did() -> None:
    assert KEPT.beside(lines()) == ([], [])


if __name__ == "__main__":
    KEPT.write(lines())
