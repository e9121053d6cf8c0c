"""Every way that is told for a pour gone wrong, in one case after the other, with what it makes.

``fixtures/tables/recovery.txt`` has them, best first. What a solver finds is told to a gram: the
tenths are its own. A line that changes is a change to what a cook is advised:
``python -m tests.station.test_recovery_answers`` writes the file anew, to be read.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

from tests.domain.answering import shown
from tests.domain.kept import Kept
from tests.station.putting_right import SUCROSE_LAST, Cook, own_mix
from weighd.domain import mass
from weighd.domain.recovery import State, Trouble, Way
from weighd.domain.recovery_options import Asked, Option, options
from weighd.domain.recovery_search import Allowed
from weighd.domain.recovery_ways import weighings
from weighd.solver.highs import Highs

KEPT = Kept("recovery.txt")
SEARCHED = (Way.REBALANCE, Way.LESS)
D = Decimal


def cooked(order: tuple[str, ...], until: str, grams: str, text: str = "") -> Cook:
    """Everything before one ingredient weighed, and so much of that poured."""
    cook = Cook()
    cook.begin(text or own_mix(order))
    if order[0] != until:
        cook.weigh(until=until)
    cook.add(grams)
    return cook


def cases() -> Iterator[tuple[str, State, Asked]]:
    last = cooked(SUCROSE_LAST, "sucrose", "352").trouble(Trouble.OVER)
    first = cooked(("milk", "cream", "powder", "sucrose", "water"), "sucrose", "352")
    over = first.trouble(Trouble.OVER)
    yield "sugar at the end", last, Asked()
    yield "lying dry", last, Asked(dry=True)
    prices = {"milk": D("1.1"), "water": D("0.01"), "sucrose": D(1)}
    yield "mixed in, a small bowl", last, Asked(dry=False, holds_g=D(2430), prices=prices)
    yield (
        "a scale nearly full, little milk",
        last,
        Asked(dry=False, load_g=D(5930), allowed=Allowed(on_hand={"milk": D(10)})),
    )
    yield "sugar in the middle", over, Asked(dry=False, prices=prices)
    small = {**last.stuffs, last.hand: replace(last.stuffs[last.hand], hand_g=D(333))}
    yield "a little too much", replace(last, stuffs=small), Asked()
    cream = cooked(("milk", "cream", "powder", "water"), "cream", "111")
    yield "ran out", cream.trouble(Trouble.RAN_OUT), Asked()
    powder = over.stuffs[3].ingredient
    wrong = replace(powder, id="starch", name="Starch", facts=None)
    yield "wrong", first.trouble(Trouble.WRONG, wrong), Asked(dry=False)
    alone = cooked(("sucrose", "milk", "powder"), "sucrose", "350")
    yield "into an empty vessel", alone.trouble(Trouble.OVER), Asked()
    bare = own_mix(("milk", "sucrose"))
    text = "\n".join(one for one in bare.splitlines() if not one.startswith("composition"))
    unknown = cooked(("milk", "sucrose"), "sucrose", "352", text)
    yield "nothing known", unknown.trouble(Trouble.OVER), Asked()
    short = cooked(("milk", "sucrose", "powder"), "sucrose", "320").trouble(Trouble.OVER)
    yield "not too much", short, Asked(dry=False)


def told(one: Option, state: State) -> str:
    """A way in a line."""
    out: dict[str, Any] = {"barred": one.barred and one.barred.code, "asks": one.asks}
    out["broken"] = [limit.of for limit in one.broken]
    out |= {"stays": one.stays, "exact": one.exact, "weighings": one.weighings}
    if one.way in SEARCHED:
        out["becomes"] = int(one.becomes_g.to_integral_value())
        return shown(out)
    out |= {"take": one.take_g, "becomes": one.becomes_g, "adds": one.adds, "cost": one.cost}
    out["effects"] = [
        f"{it.of} {it.before} to {it.after} {it.unit} {it.word or ''}" for it in one.effects
    ]
    if one.change is not None:
        out["change"] = json.dumps(one.change.as_json(), ensure_ascii=False)
        assert one.weighings == weighings(state, one.change) or one.way is Way.TAKE_OUT
    out["comes"] = [
        f"{it.n} {it.ingredient} {mass.text(it.target_g)} ({mass.text(it.low_g)} to "
        f"{mass.text(it.high_g)}) on {it.scale} of {it.of}"
        for it in one.additions
    ]
    return shown(out)


def lines() -> list[str]:
    solver = Highs()
    out = []
    for name, state, asked in cases():
        found = options(state, asked, {}, solver)
        head = {
            "dry_asked": found.dry_asked,
            "dry_said": found.dry_said,
            "plan_g": found.plan_g,
            "unknown": found.unknown,
            "limits": [(one.of, str(one.least), str(one.most)) for one in found.limits],
        }
        out.append(f"{name} | {shown(head)}")
        out += [f"{name} | {one.way} | {told(one, state)}" for one in found.ways]
    return out


def test_a_pour_gone_wrong_is_answered_as_it_was() -> None:
    assert KEPT.beside(lines()) == ([], [])


if __name__ == "__main__":
    KEPT.write(lines())
