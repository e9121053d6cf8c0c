"""What is done besides weighing: lots, steps, yields, corrections, countersigning."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from tests.simulation.cook import Cook
from tests.simulation.setting import PEOPLE
from weighd.domain.batch import Batch
from weighd.domain.process_run import State

#: People who have no part in any batch.
LOOKERS = ("Edda", "Finn")


# --- lots -----------------------------------------------------------------------------------------


def _lots(cook: Cook) -> list[str]:
    return [one.code for one in cook.house.station.stock.book]


def receives_a_lot(cook: Cook) -> None:
    chance = cook.chance
    names = [one.ingredient.id for one in cook.setting.formula.additions]
    goods: dict[str, Any] = {
        "ingredient": chance.choice((*names, "honey")),
        "quantity_g": str(chance.choice((50, 900, 5000))),
    }
    if chance.often(0.3):
        goods["use_by"] = chance.choice(("2026-11-20", "2026-12-20", "no day"))
    if chance.often(0.1) and _lots(cook):
        goods["corrects"] = chance.choice(_lots(cook))
    cook.press("receive lot", by=cook.somebody(), goods=goods, reason="counted")


def does_something_to_a_lot(cook: Cook) -> None:
    chance, lots = cook.chance, _lots(cook)
    do = chance.choice(("open lot", "block lot", "release lot", "adjust lot", "use up lot"))
    goods = {"count_g": str(chance.choice((0, 40, 1200)))} if do == "adjust lot" else {}
    lot = chance.choice((*lots, "no such lot")) if lots else "no such lot"
    reason = "looked at" if chance.often(0.9) else ""
    cook.press(do, lot=lot, by=cook.somebody(), goods=goods, reason=reason)


# --- batches that are over, or go on --------------------------------------------------------------


def _some_batch(cook: Cook) -> Batch | None:
    """Any batch there was, as its entries tell it."""
    batches = cook.rules.batches()
    return cook.chance.choice(batches) if batches else None


def records_a_yield(cook: Cook) -> None:
    batch, chance = _some_batch(cook), cook.chance
    if batch is None:
        return
    given: dict[str, Any] = {"draw": {"weight": chance.choice(("620 g", "1.2 kg", "-1 g"))}}
    if chance.often(0.2):
        given = {"draw": {}, "scale": chance.choice(tuple(cook.world.scales))}
    if chance.often(0.2):
        given |= {"corrects": chance.choice((1, 2)), "reason": "misread"}
    cook.press("record yield", batch=batch.id, by=cook.somebody(), **given)


def countersigns(cook: Cook) -> None:
    batch, chance = _some_batch(cook), cook.chance
    if batch is None:
        return
    upto = batch.n if chance.often(0.85) else batch.n - 1
    by = chance.choice((*LOOKERS, *LOOKERS, *PEOPLE))
    cook.press("countersign", batch=batch.id, entry=upto, by=by, note="seen")


def puts_an_old_word_right(cook: Cook) -> None:
    batch, chance = _some_batch(cook), cook.chance
    if batch is None or not batch.written:
        return
    one = chance.choice(batch.written)
    field = chance.choice(tuple(one.fields))
    cook.press(
        "correct",
        batch=batch.id,
        entry=one.n,
        field=field,
        old=one.fields[field],
        new=chance.choice((*PEOPLE, *(_lots(cook) or ["L2"]))),
        reason="misread",
        by=cook.somebody(),
        confirm=chance.often(0.3),
    )


def presses_for_no_batch(cook: Cook) -> None:
    do = cook.chance.choice(("accept", "tare", "begin step", "countersign", "record yield"))
    batch = cook.chance.choice(("", "sim-0099", "sim-0001"))
    cook.press(do, batch=batch, step=1, by=cook.somebody(), draw={"weight": "1 g"})


# --- steps ----------------------------------------------------------------------------------------


def in_process(cook: Cook) -> Batch | None:
    there = cook.house.station.off_bench.in_process()
    return there[0] if there else None


def steps_on(cook: Cook) -> bool:
    """What a batch in process asks for next, done well; whether there was one."""
    did = _steps_on(cook)
    if cook.code == "clock-behind":
        cook.clock_right()
    return did


def _steps_on(cook: Cook) -> bool:
    batch = in_process(cook)
    if batch is None:
        return False
    at, n = batch.process, batch.process.at
    state = at.state(len(batch.steps))
    step = batch.steps[n - 1]
    given: dict[str, Any] = {"batch": batch.id, "step": n, "by": "Bo"}
    if state is State.WAITING:
        cook.press("begin step", confirmed=tuple(one.name for one in step.cautions), **given)
        return True
    if state is State.HELD:
        if "accept step" in _can(batch) and cook.chance.often(0.5):
            cook.press("accept step", reason="good enough", **given)
        else:
            cook.press("repeat step", reason="once more", **given)
        return True
    run = at.run
    assert run is not None
    if step.table is not None:
        if not run.counted:
            cook.world.sleep(1_200_000)
            cook.press("enter temperature", temperature="66 °C", **given)
            return True
        cook.world.sleep(1_810_000)
        cook.press("enter temperature", temperature="66.2 °C", **given)
    elif step.needs_temperature and not run.counted:
        cook.world.sleep(3_000_000)
        cook.press("enter temperature", temperature="3.5 °C", **given)
        cook.world.sleep(0 if "age" not in str(step.kind) else 15_000_000)
    cook.press("end step", **given)
    return True


def _can(batch: Batch) -> tuple[str, ...]:
    from weighd.domain.process_orders import can

    return can(batch)


def steps_anyhow(cook: Cook) -> None:
    """A step's buttons at the wrong time, or with what was not measured."""
    batch, chance = in_process(cook), cook.chance
    if batch is None:
        return
    do = chance.choice(
        ("begin step", "enter temperature", "strike temperature", "end step", "fail step",
         "repeat step", "accept step", "note step", "close batch", "abandon")
    )  # fmt: skip
    n = batch.process.at + chance.choice((0, 0, 0, 0, 1, -1))
    given: dict[str, Any] = {"batch": batch.id, "step": n, "by": cook.somebody()}
    match do:
        case "enter temperature":
            given["temperature"] = chance.choice(("60 °C", "150 °F", "3 °C", "warm"))
            given["ago"] = chance.choice(("", "", "2 min", "9 days"))
        case "strike temperature":
            given |= {"value": 1, "reason": "the probe was out"}
        case "note step":
            given["note"] = chance.choice(("foams", ""))
        case "repeat step":
            given["from_step"] = chance.choice((None, 1, 9))
        case "begin step":
            given["pair"] = chance.choice(("", "65.6 °C, 30 min", "1 °C, 1 min"))
    if chance.often(0.7) or do == "abandon":
        given["reason"] = "because"
    if do == "abandon" and chance.often(0.7):
        return
    cook.press(do, **given)
    cook.world.sleep(chance.choice((0, 60_000, 1_900_000)))


#: Between batches and beside them, with how often each comes.
BESIDE: Mapping[Callable[[Cook], Any], int] = {
    receives_a_lot: 5,
    does_something_to_a_lot: 5,
    records_a_yield: 4,
    countersigns: 4,
    puts_an_old_word_right: 4,
    presses_for_no_batch: 1,
    steps_on: 10,
    steps_anyhow: 8,
}


def beside(cook: Cook) -> str:
    """One of them; its name."""
    (act,) = cook.chance.choices(tuple(BESIDE), tuple(BESIDE.values()))
    act(cook)
    return act.__name__


__all__ = ["beside", "in_process", "steps_on"]
