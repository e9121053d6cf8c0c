"""What fails: cables, scales, stores, clocks, and the process itself."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from tests.simulation.house import POINTS
from tests.simulation.slips import TOLD_D
from weighd.domain.addition import Phase
from weighd.domain.errors import JournalError
from weighd.station.inputs import ClockSet, Heard

if TYPE_CHECKING:
    from tests.simulation.run import Run
    from tests.simulation.scales import Scale


def _scale(run: Run) -> Scale:
    """Mostly the one that is worked at."""
    names = tuple(run.world.scales)
    name = run.world.busy if run.cook.chance.often(0.8) else run.cook.chance.choice(names)
    return run.world.scales[name]


#: With less on it a scale that slept may be poured into as it wakes, and its zero is not told.
SPOONFUL_G = 5.0
#: One reading decides nothing: a zero shows in so many.
READINGS_OF_ZERO = 3


def _zeroed(run: Run, scale: Scale) -> bool:
    """It was without power, and is at zero with whatever stands there: where that can be told."""
    if not run.cook.is_own(scale):
        return False  # at zero with another vessel on it, and nobody says so: no station sees that
    awaited = run.house.station.now.phase is Phase.AWAITING
    if scale.asleep and not scale.at_rest and awaited:
        return False  # nor with one that was just set back
    told = max(TOLD_D * scale.d, SPOONFUL_G if scale.asleep else 0.0)
    if abs(scale.display_g) <= told or scale.load_g >= scale.make.max_g:
        return False
    run.tally.saw("fault", "back at zero")
    run.world.flows.clear()
    if run.house.fails:
        run.cook.unwritten(math.inf)
    run.cook.zeroed(scale)
    return True


def _wakes(run: Run, scale: Scale, at_zero: bool) -> None:
    """It is heard again, and soon somebody pours: onto another zero not before the third reading,
    nor before a life has heard of it at all."""
    known = run.house.station.scales[scale.name].finding is not None
    soon = run.cook.chance.choice((200, 1500)) if known else 1500
    run.world.advance(max(soon, READINGS_OF_ZERO * scale.period) if at_zero else soon)


def cable_pulled(run: Run) -> None:
    chance, scale = run.cook.chance, _scale(run)
    run.world.advance(chance.choice((0, 300, 700)))
    run.world.unplug(scale.name)
    run.world.advance(chance.choice((50, 800, 3000)))
    at_zero = chance.often(0.4) and _zeroed(run, scale)
    if chance.often(0.7):
        run.world.plug(scale.name)
        _wakes(run, scale, at_zero)


def scale_asleep(run: Run) -> None:
    chance, scale = run.cook.chance, _scale(run)
    scale.asleep = True
    run.world.advance(chance.choice((1500, 2600, 9000)))
    at_zero = chance.often(0.5) and _zeroed(run, scale)
    scale.asleep = False
    _wakes(run, scale, at_zero)


def noise_on_the_line(run: Run) -> None:
    chance, scale = run.cook.chance, _scale(run)
    for _ in range(chance.randint(1, 4)):
        if scale.plugged:
            run.world.deliver(
                Heard(run.world.t, scale.name, chance.randbytes(chance.randint(1, 40)))
            )
        run.world.advance(chance.randint(20, 200))


def store_fails(run: Run) -> None:
    """So many writes are refused; then all is well again."""
    code, text = run.cook.chance.choice(
        (
            ("store-full", "The disk is full."),
            ("store-busy", "Another program writes to the record."),
            ("store-sync", "The disk did not take it."),
        )
    )
    run.house.fails = [JournalError(code, text)] * run.cook.chance.randint(1, 4)


def process_dies(run: Run) -> None:
    """Soon, between two effects."""
    chance = run.cook.chance
    point = chance.choice(POINTS)
    run.house.die_at = (point, chance.choice((1, 1, 2, 5, 12)))


def station_restarted(run: Run) -> None:
    """Stopped in good order, and started again."""
    run.house.keep_learned()
    run.life()


def clock_set(run: Run) -> None:
    """The wall clock is set; the clock that never falls goes on."""
    chance = run.cook.chance
    jump = chance.choice((-86400.0, -3600.0, -7.0, -0.7, 0.7, 60.0, 3600.0, 86400.0, 4e7))
    run.house.ahead_s += jump
    if chance.often(0.5) and abs(run.house.ahead_s) > 1e6:
        run.house.ahead_s = 0.0
    run.world.deliver(ClockSet(run.world.t, run.house.wall()))


def time_passes(run: Run) -> None:
    """Nobody is there for a while."""
    run.world.sleep(run.cook.chance.choice((20_000, 200_000, 2_000_000, 20_000_000)))


def page_drops_out(run: Run) -> None:
    page = run.cook.chance.choice(run.pages)
    page.connect(run.link, run.house.picture, resume=run.cook.chance.often(0.7))


FAULTS: Mapping[Callable[[Run], None], int] = {
    cable_pulled: 8,
    scale_asleep: 4,
    noise_on_the_line: 3,
    store_fails: 5,
    process_dies: 10,
    station_restarted: 3,
    clock_set: 2,
    time_passes: 1,
    page_drops_out: 4,
}


def fail(run: Run) -> str:
    """One of them; its name."""
    (fault,) = run.cook.chance.choices(tuple(FAULTS), tuple(FAULTS.values()))
    run.tally.saw("fault", fault.__name__)
    fault(run)
    return fault.__name__
