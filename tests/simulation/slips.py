"""What cooks do besides what comes next: slips, second thoughts, and other buttons."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from tests.simulation.cook import Cook
from tests.simulation.hands import UNTOLD_MS
from tests.simulation.scales import Scale
from tests.simulation.setting import PEOPLE
from tests.simulation.world import MISREAD_MS, Flow
from weighd.domain.addition import Do, Phase
from weighd.domain.errors import WeighdError
from weighd.domain.recovery import Change, Trouble, state_of
from weighd.domain.recovery_ways import enlarged, shrunk

#: No zero is told from less than so many intervals (tests/station/test_true_amounts.py).
TOLD_D = 12
#: Nor a key within so many readings of a pour, or where one is held up or damaged around it.
FIRST_OF_A_POUR = 6
#: Nor is a key that is pressed before a pan that was leaned on has come to rest.
COMES_TO_REST_MS = 1000


#: What says that something was done with the hands: a station can only believe it.
SAYS_WHAT_WAS_DONE = (Do.RESUME, Do.WEIGH_AGAIN)


def pours_too_much(cook: Cook) -> None:
    planned = cook.batch.current  # type: ignore[union-attr]
    assert planned is not None
    room = float(planned.high_g - planned.low_g)
    cook.pour(room * cook.chance.uniform(0.5, 2.5))


def drips(cook: Cook) -> None:
    planned = cook.batch.current  # type: ignore[union-attr]
    assert planned is not None
    scale = cook.scale_of(planned)
    for _ in range(cook.chance.randint(1, 3)):
        cook.pour(scale.d * cook.chance.uniform(0.3, 4), wait=False)
        cook.wait(cook.chance.randint(100, 900))


def pours_in_gulps(cook: Cook) -> None:
    planned = cook.batch.current  # type: ignore[union-attr]
    assert planned is not None
    for _ in range(cook.chance.randint(2, 4)):
        cook.pour(float(planned.target_g) * cook.chance.uniform(0.05, 0.2), wait=False)
        cook.wait(cook.chance.randint(200, 1200))


def walks_off_while_it_pours(cook: Cook) -> None:
    """It goes on pouring while something else is done."""
    planned = cook.batch.current  # type: ignore[union-attr]
    assert planned is not None
    vessel = cook.vessel_of(cook.batch, planned)  # type: ignore[arg-type]
    if not planned.by_difference:
        grams = float(planned.target_g) * cook.chance.uniform(0.2, 0.6)
        held = cook.batch.held  # type: ignore[union-attr]
        if held is not None and held.cause.of_the_scale and grams > vessel.mass_g / 2:
            return  # as much as stood there, on a scale that may be at zero: no station sees that
        cook.world.pour(vessel, planned.ingredient, grams, max(grams / 3, 1.0), None)
        cook.wait(cook.chance.randint(100, 1200))


def lifts_and_sets_back(cook: Cook) -> None:
    scale = cook.scale_of(cook.batch.current)  # type: ignore[union-attr, arg-type]
    vessel, scale.on = scale.on, None
    cook.wait(cook.chance.choice((150, 600, 1600)))
    if cook.chance.often(0.8):
        scale.on = vessel
        cook.wait(cook.chance.choice((300, 1500)))


def sets_another_vessel_down(cook: Cook) -> None:
    scale = cook.scale_of(cook.batch.current)  # type: ignore[union-attr, arg-type]
    cook.world.put(cook.world.vessel("a jug", 433.21), scale.name)
    cook.wait(cook.chance.choice((300, 1600)))


def leans_on_the_pan(cook: Cook) -> None:
    scale = cook.scale_of(cook.batch.current)  # type: ignore[union-attr, arg-type]
    scale.extra_g = cook.chance.choice((0.4, 5.0, 80.0, -30.0))
    cook.wait(cook.chance.choice((100, 400, 2000)))
    scale.extra_g = 0.0
    cook.touched_ms = cook.world.ms
    cook.wait(200)


def presses_the_scales_key(cook: Cook) -> None:
    """Its own tare key, with the load on."""
    batch = cook.batch
    assert batch is not None
    planned = batch.current
    assert planned is not None
    scale = cook.scale_of(planned)
    cook.wait(cook.chance.choice((400, 1500)))
    # Nor during a check, nor before a vessel that was set back has come to rest.
    awaited = batch.tare is not None and cook.house.station.now.phase is Phase.AWAITING
    looks_on = not cook.house.station.checking.holds(scale.name) and not awaited
    if not cook.is_own(scale) or batch.held is not None or not looks_on:
        return  # what another vessel is tared with, and when nobody looks, no station sees
    if _is_told(cook, scale):
        cook.tally.saw("fault", "the scale's own key")
        cook.unwritten(math.inf if cook.house.fails else cook.world.ms + UNTOLD_MS)
        cook.zeroed(scale)
        cook.world.calm_ms = cook.world.ms + MISREAD_MS
        cook.wait(1500)


def _is_told(cook: Cook, scale: Scale) -> bool:
    """Whether a key that is pressed now shows on the display as one (docs/explanation/settling.md):
    just after a pour or a hand it looks as if the vessel had been lifted."""
    world = cook.world
    if world.ms - world.damaged_ms < MISREAD_MS or world.holds_back(scale.name):
        return False
    if world.ms - cook.touched_ms < COMES_TO_REST_MS:
        return False
    flowed = world.ms - world.began_ms >= FIRST_OF_A_POUR * scale.period
    if not (flowed if world.flows else scale.at_rest):
        return False
    if any(_looks_set_down(cook, one) for one in world.flows):
        return False
    return abs(scale.display_g) > TOLD_D * scale.d


def _looks_set_down(cook: Cook, flow: Flow) -> bool:
    """Whether what still flows comes within a second to what may be the vessel, set back: it ends
    with that, or comes to all that last stood there."""
    batch = cook.batch
    if batch is None or batch.tare is None:
        return False
    tare, in_a_second = batch.tare.level.grams, flow.g_per_ms * 1000
    rested = float(tare + (cook.house.station.now.sum_g or 0))
    ends = in_a_second > abs(float(tare)) / 2 and flow.left_g < 1.5 * in_a_second
    return ends or in_a_second > 0.9 * abs(rested)


def presses_again(cook: Cook) -> None:
    if cook.pressed:
        cook.again(*cook.pressed[-cook.chance.randint(1, min(6, len(cook.pressed)))])


def two_pages_at_once(cook: Cook) -> None:
    """Both see the same, and both press."""
    batch = cook.batch
    assert batch is not None
    planned = batch.current
    assert planned is not None
    do = cook.chance.choice(("accept", "tare", "top up", "name lot"))
    cook.doubt()
    for _ in range(2):
        cook.press(do, batch=batch.id, addition=planned.n, lot="L1" if do == "name lot" else "")


def presses_anything(cook: Cook) -> None:
    """A button at the wrong time, for the wrong addition, of a page that is behind."""
    batch, chance = cook.batch, cook.chance
    assert batch is not None
    planned = batch.current
    assert planned is not None
    do = chance.choice([one for one in Do if one not in (Do.ABANDON, *SAYS_WHAT_WAS_DONE)])
    cook.doubt()
    given: dict[str, Any] = {"addition": planned.n + chance.choice((-1, 0, 0, 0, 0, 1))}
    if chance.often(0.1):
        given["batch"] = "sim-0099"
    if do is Do.USE_SCALE:
        given["scale"] = chance.choice((*cook.world.scales, "nowhere"))
    if do is Do.PUT_RIGHT:
        given["change"] = chance.choice((None, {"way": "nonsense"}))
    if chance.often(0.3):
        given["reason"] = "because"
    if do in (Do.NAME_LOT, Do.NEXT_LOT):
        given["lot"] = chance.choice(("", "L1", "L2", "L7"))
    if do is Do.TARE and chance.often(0.1):
        given["vessel"] = chance.choice(("bowl", "no such vessel"))
    cook.press(do, **given)


def accepts_without_looking(cook: Cook) -> None:
    batch = cook.batch
    assert batch is not None
    cook.doubt()
    cook.press("accept", addition=batch.current.n, batch=batch.id)  # type: ignore[union-attr]


def accepts_with_a_reason(cook: Cook) -> None:
    batch = cook.batch
    assert batch is not None
    cook.doubt()
    cook.press("accept", addition=batch.current.n, reason="near enough")  # type: ignore[union-attr]


def says_another_vessel_stands_there(cook: Cook) -> None:
    """Only where that is true, a cook says so."""
    batch = cook.batch
    assert batch is not None
    planned = batch.current
    assert planned is not None
    scale = cook.scale_of(planned)
    mine = cook.vessel_of(batch, planned)
    if "tare another" in cook.house.station.can() and mine.contents_g == 0:
        scale.on = mine
        cook.wait()
        cook.press("tare", addition=planned.n, confirm=True)
    else:
        scale.on = None
        cook.wait(1200)
        other = cook.world.vessel("a jug", 433.21)
        scale.on = other
        cook.wait(1500)
        scale.on = mine
        cook.wait(1500)


def says_nothing_was_added(cook: Cook) -> None:
    """Of a scale at zero, without knowing: what is recorded then is the cook's word."""
    batch = cook.batch
    assert batch is not None
    planned = batch.current
    assert planned is not None
    if "resume" in cook.house.station.can():
        cook.truth.lies.add((batch.id, planned.n))
        for n in range(planned.n, len(batch.additions) + 1):
            cook.truth.lies.add((batch.id, n))
        cook.press("resume", addition=planned.n)


def weighs_on_another_scale(cook: Cook) -> None:
    batch = cook.batch
    assert batch is not None
    names = [one for one in cook.world.scales if one != batch.current.scale]  # type: ignore[union-attr]
    if names and "use scale" in cook.house.station.can():
        cook.press("use scale", scale=cook.chance.choice(names))


def makes_more_or_less_of_it(cook: Cook) -> None:
    """Put right by another size, worked out as the page's list does."""
    batch, now = cook.batch, cook.house.station.now
    assert batch is not None
    if now.claim is None or "put right" not in cook.house.station.can():
        return
    way, trouble = cook.chance.choice(((enlarged, Trouble.OVER), (shrunk, Trouble.RAN_OUT)))
    try:
        change = way(state_of(batch, trouble, now.claim.net_g))
    except WeighdError as error:
        cook.tally.saw("refused", error.code)
        return
    if isinstance(change, Change):
        cook.press("put right", change=change.as_json(), reason="a heavy hand")


def names_a_lot(cook: Cook) -> None:
    batch, chance = cook.batch, cook.chance
    assert batch is not None
    lots = [one.code for one in cook.house.station.stock.book] or ["L1"]
    do = "next lot" if chance.often(0.3) else "name lot"
    reason = "it is fine" if chance.often(0.2) else ""
    cook.press(do, lot=chance.choice((*lots, "L9")), reason=reason)


def gives_the_batch_up(cook: Cook) -> None:
    if cook.chance.often(0.3):
        cook.press("abandon", reason="spilt" if cook.chance.often(0.8) else "")


def starts_another(cook: Cook) -> None:
    """While one is weighed."""
    cook.press("start", formula=cook.setting.content, by=cook.somebody())


def checks_the_scale(cook: Cook) -> None:
    """Whole or broken off, with the right weight or another."""
    scale = cook.world.scales[cook.setting.makes[0].name]
    before, scale.on, scale.extra_g = scale.on, None, 0.0
    cook.world.busy = scale.name
    cook.wait()
    if cook.press("start check", scale=scale.name, by=cook.somebody()) is not None:
        for _ in range(cook.chance.randint(1, 3)):
            cook.wait(1800)
            scale.extra_g = cook.chance.choice((500.0, 500.0, 500.0, 512.0, 700.0))
            cook.wait(1800)
            if cook.chance.often(0.3):
                cook.press("it is right", scale=scale.name)
            scale.extra_g = 0.0
            cook.wait(1800)
        if cook.chance.often(0.3):
            cook.press("stop check", scale=scale.name)
    scale.on = before
    cook.wait(300)


def changes_the_shelf(cook: Cook) -> None:
    chance = cook.chance
    name = chance.choice(("jug", "pot", "bowl"))
    if chance.often(0.3):
        cook.shelf("forget vessel", name)
    else:
        given = {"mass_g": "433.2"} if chance.often(0.7) else {"scale": "bench"}
        cook.shelf("keep vessel", name, **given)


def forgets_a_scale(cook: Cook) -> None:
    name = cook.chance.choice(tuple(cook.world.scales))
    if cook.press("forget scale", scale=name, key="") is not None:
        cook.house.learned.pop(name, None)


def dismisses_a_notice(cook: Cook) -> None:
    for one in list(cook.house.station.notices)[:1]:
        cook.tally.saw("command", "dismiss")
        cook.house.station.dismiss(one.code)
        cook.house.picture.refresh()


def puts_a_word_right(cook: Cook) -> None:
    """Of the batch on the bench, or the one before."""
    station, chance = cook.house.station, cook.chance
    bench = station.batch
    if bench is None or not bench.written:
        return
    one = chance.choice(bench.written)
    field = chance.choice(tuple(one.fields))
    old = one.fields[field] if chance.often(0.85) else "something else"
    cook.press(
        "correct",
        batch=bench.id,
        entry=one.n + (0 if chance.often(0.9) else 1),
        field=field,
        old=old,
        new=chance.choice((*PEOPLE, "L2", "")),
        reason="misread" if chance.often(0.9) else "",
        by=cook.somebody(),
        confirm=chance.often(0.3),
    )


#: Slips while a batch is weighed, with how often each comes.
WHILE_WEIGHED: Mapping[Callable[[Cook], None], int] = {
    pours_too_much: 6,
    drips: 6,
    pours_in_gulps: 4,
    walks_off_while_it_pours: 5,
    lifts_and_sets_back: 6,
    sets_another_vessel_down: 2,
    leans_on_the_pan: 5,
    presses_the_scales_key: 5,
    presses_again: 6,
    two_pages_at_once: 5,
    presses_anything: 10,
    accepts_without_looking: 5,
    accepts_with_a_reason: 2,
    says_another_vessel_stands_there: 3,
    says_nothing_was_added: 1,
    weighs_on_another_scale: 3,
    makes_more_or_less_of_it: 6,
    names_a_lot: 5,
    gives_the_batch_up: 1,
    starts_another: 1,
    checks_the_scale: 1,
    changes_the_shelf: 1,
    forgets_a_scale: 1,
    dismisses_a_notice: 1,
    puts_a_word_right: 3,
}


def slip(cook: Cook) -> str:
    """One of them; its name."""
    (act,) = cook.chance.choices(tuple(WHILE_WEIGHED), tuple(WHILE_WEIGHED.values()))
    act(cook)
    return act.__name__
