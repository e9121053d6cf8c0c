"""A simulated cook after weighing: does the steps of a batch, time passing at once.

It does each as its limits ask, with temperatures that lie well within them: nothing is simulated of
the mix itself.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from decimal import Decimal

from weighd.domain.batch import Batch
from weighd.domain.cautions import DRY_ICE
from weighd.domain.duration import words
from weighd.domain.process import ProcessStep
from weighd.domain.temperature import CELSIUS, Temperature
from weighd.main.daemon import Daemon
from weighd.station.inputs import Command

#: How long a step takes without limits of time, and how long a mix takes to get hot, in seconds.
USUALLY_S, HEATING_S = Decimal(300), Decimal(1200)


async def do_steps(daemon: Daemon, batch: str, by: str, tell: Callable[[str], None]) -> None:
    """Take a batch in process through its steps to its end."""
    count = 0

    async def ask(do: str, step: int, **more: object) -> None:
        nonlocal count
        count += 1
        given = {"key": f"{batch}-step-{count}", "by": by, "batch": batch, "step": step, **more}
        await daemon.runner.command(Command(0.0, do, **given))  # type: ignore[arg-type]

    async def wait(seconds: Decimal) -> None:
        daemon.clock.skip(float(seconds))
        await asyncio.sleep(0)

    while (found := _in_process(daemon, batch)) is not None:
        n = found.process.at
        step = found.steps[n - 1]
        tell(f"step {n}/{len(found.steps)} {step.name}")
        names = tuple(one.name for one in step.cautions)
        await ask("begin step", n, confirmed=names, **_with_dry_ice(step))
        for seconds, temperature in _acts(step):
            await wait(seconds)
            if temperature is not None:
                await ask("enter temperature", n, temperature=str(temperature))
                tell(f"step {n}/{len(found.steps)} {temperature}, {words(seconds)} later")
        await ask("end step", n)


def _with_dry_ice(step: ProcessStep) -> dict[str, object]:
    """The room of the invented kitchen, where a step is done with dry ice."""
    if step.means != DRY_ICE:
        return {}
    room = {"room_m3": "60", "air_changes": "6", "release_min": "15"}
    coldest = step.limits.at_most
    if coldest is not None and coldest.unit == CELSIUS:
        room["to_c"] = str(coldest.value)
    return {"dry_ice": room}


def _in_process(daemon: Daemon, batch: str) -> Batch | None:
    them = daemon.station.off_bench.in_process()
    return next((one for one in them if one.id == batch), None)


def _acts(step: ProcessStep) -> list[tuple[Decimal, Temperature | None]]:
    """What is waited for, in seconds, and what is measured then."""
    if step.table is not None:
        pair = step.table.pairs[0]
        hot = Temperature(pair.temperature.value + 1, pair.temperature.unit)
        return [(HEATING_S, hot), (pair.time_s + 60, hot)]
    limits = step.limits
    takes = USUALLY_S if limits.most_s is None else limits.most_s / 2
    takes = max(takes, (limits.least_s or Decimal(0)) + 60)
    if not limits.of_temperature:
        return [(takes, None)]
    measured = _within(step)
    return [(takes / 2, measured), (takes / 2, None)] if step.kept else [(takes, measured)]


def _within(step: ProcessStep) -> Temperature:
    """A temperature half a degree within the limits; in their middle where there are two."""
    low, high = step.limits.at_least, step.limits.at_most
    if low is not None and high is not None:
        return Temperature((low.value + high.value) / 2, high.unit)
    half = Decimal("0.5")
    if high is not None:
        return Temperature(high.value - half, high.unit)
    assert low is not None
    return Temperature(low.value + half, low.unit)
