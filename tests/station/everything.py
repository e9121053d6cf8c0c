"""A batch with everything in it that a record can hold, weighed by hand; invented throughout."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import cache
from typing import Any

from tests.domain.check_world import weight
from tests.domain.process_world import tables
from tests.station.check_hand import check
from tests.station.planned_kitchen import PREMIX, Kitchen
from tests.station.process_cook import STEPS
from tests.station.putting_right import SUCROSE_LAST, Cook, own_mix
from tests.station.scripted import Hand, LineDecoder
from weighd.domain.check import Plan
from weighd.domain.check_routine import Routine
from weighd.domain.check_standing import Duty, Then
from weighd.domain.formula_text import read_formula
from weighd.domain.record import Entry
from weighd.domain.recovery import Change, Trouble
from weighd.domain.recovery_ways import enlarged
from weighd.domain.verify import Report, export, verify_export
from weighd.station.check_history import of_batch
from weighd.storage.memory import MemoryJournal

FORMULA = PREMIX + STEPS
#: A large scale, and a finer one that cannot judge the gum either without a premix.
TWO = {"bench": ("1", "6000"), "fine": ("0.1", "500")}
#: Weights for a scale of 1 g, and a limit that such a display can keep.
CHECK = Routine(Plan(masses=(weight(2000),), limit_g=Decimal(5)), Duty(Then.FLAGS))


class _Hand(Hand):
    """A hand whose formulas have steps after weighing."""

    def start(self, text: str = FORMULA, **given: Any) -> Any:
        given.setdefault("by", "Ada")
        content = read_formula(text, "test-ice.toml", None, tables()).content()
        return self.do("start", formula=content, **given)


class _Kitchen(Kitchen):
    """Two scales, of which the large one is checked, and lots booked in, before anything is
    weighed."""

    def new_hand(self, **given: Any) -> Hand:
        (_, (interval, most)), *more = self.scales.items()
        hand = _Hand(interval=interval, max_g=most, more=dict(more), check=CHECK, **given)
        hand.show("0.0")
        check(hand)
        self.lots = []
        for ingredient, grams in (("sugar", "250"), ("sugar", "5000"), ("milk", "20000")):
            goods = {"ingredient": ingredient, "quantity_g": grams, "supplier": "Invented Mill"}
            hand.do("receive lot", by="Ada", goods=goods)
            self.lots.append(str(hand.journal[-1].body["lot"]))
        return hand


@cache
def planned() -> tuple[Entry, ...]:
    """By a plan on two scales with a premix; held and decided, steps, a yield, words put right."""
    kitchen = _Kitchen(FORMULA, TWO)
    hand = kitchen.hand
    while (current := kitchen.batch.current) is not None:
        kitchen.handle(current.n)
        if current.ingredient == "milk":
            hand.do("name lot", lot=kitchen.lots[2])
            _too_much(kitchen)
        else:
            if current.ingredient == "sugar":
                hand.do("name lot", lot=kitchen.lots[1])
            kitchen.weigh()
    batch = kitchen.batch.id
    _process(hand, batch)
    hand.do("record yield", batch=batch, by="Bo", draw={"weight": "1100 g"})
    accepted = (one.body for one in hand.journal if one.kind == "addition accepted")
    entry = next(one for one in accepted if one["ingredient"] == "sugar")
    hand.do(
        "correct",
        batch=batch,
        by="Cy",
        entry=entry["n"],
        field="lot",
        old=entry["lot"],
        new=kitchen.lots[0],
        reason="wrong sack read",
    )
    hand.on = "bench"
    hand.lift("0")
    check(hand)
    return tuple(hand.journal)


def _too_much(kitchen: Kitchen) -> None:
    hand = kitchen.hand
    if kitchen.batch.tare is None:
        hand.do("tare")
    kitchen.pour(kitchen.batch.current.high_g + 4)
    hand.do("accept", addition=kitchen.batch.current.n, reason="the guests like it so")


def _process(hand: Hand, batch: str) -> None:
    def do(what: str, minutes: float = 0, **more: Any) -> None:
        hand.t += minutes * 60
        at = next(one for one in hand.station.off_bench.in_process() if one.id == batch)
        hand.do(what, batch=batch, by="Bo", **{"step": at.process.at, **more})

    do("begin step", confirmed=("hot pan",))
    do("note step", note="a lump at the rim")
    do("end step", 3)
    do("begin step", pair="65.6 °C, 30 min")
    do("enter temperature", 20, temperature="66")
    do("enter temperature", 1, temperature="96")
    do("strike temperature", value=1, reason="misread")
    do("enter temperature", 30, temperature="66.2 °C")
    do("end step")
    do("begin step")
    do("enter temperature", 60, temperature="6")
    do("end step", 300)
    do("accept step", reason="the cold room was opened")


@cache
def put_right() -> tuple[Entry, ...]:
    """Too much poured and put right; a scale that was lost; another vessel; stopped and begun."""
    cook = Cook()
    cook.begin(own_mix(SUCROSE_LAST))
    cook.weigh()
    cook.lost()
    cook.found()
    cook.show(cook.display)
    if "resume" in cook.station.can():
        cook.do("resume")
    cook.weigh(until="sucrose")
    cook.add("352")
    change = enlarged(cook.trouble(Trouble.OVER))
    assert isinstance(change, Change)
    cook.choose(change, "two scoops for one")
    cook.settle()
    cook.finish()
    return tuple(cook.journal)


def exported(entries: tuple[Entry, ...], signer: Callable[[Entry], Any] | None = None) -> Any:
    """The export of the only batch in a journal, as a file has it."""
    journal = MemoryJournal("test")
    journal.append(list(entries))
    name = next(one.body["batch"] for one in entries if one.kind == "batch opened")
    mine = journal.batch(name)
    signatures = [signer(mine[-1])] if signer else []
    return export("test", name, mine, of_batch(journal, mine), signatures)


def verified(document: Any) -> Report:
    """What an export shows by itself."""
    return verify_export(document, lambda _spec: LineDecoder())
