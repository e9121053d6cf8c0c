"""What the detector says of displays, and the guide of pours, reading by reading, kept as it was.

``fixtures/tables/traces.txt`` has each change of what is said, with its time. What must be so is
checked in ``test_settling*`` and ``test_pouring*``; here nothing may change unnoticed. A line that
does is a change to how soon, or whether, a load is called settled or a cook told to stop:
``python -m tests.domain.test_traces`` writes the file anew, to be read.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import fields
from decimal import Decimal

from tests.domain.cook_loop import Kitchen, pours
from tests.domain.display import D, Display
from tests.domain.kept import Kept
from tests.domain.test_pouring import taught
from weighd.cli.cue import Cues
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.domain.settling import Finding, Settling
from weighd.domain.settling_out import Leaving
from weighd.domain.watch import Watch, Watched

KEPT = Kept("traces.txt")


def noisy(seed: int, spread: float, seconds: float, about: float = 500.0) -> list[str]:
    """Displays that scatter."""
    rng = random.Random(seed)
    return [f"{about + rng.gauss(0, spread):.1f}" for _ in range(round(seconds * 10))]


def shown(one: Display, values: list[str]) -> None:
    for value in values:
        one.show(value)


def a_pour(one: Display) -> None:
    one.stand(1, "0.0")
    one.flow(40, 3)
    one.follow(float(one.grams) + 2, 0.3, 2)
    one.stand(3)


def in_drops(one: Display) -> None:
    one.stand(1, "0.0")
    for k in range(12):
        one.show(one.grams + Decimal("0.3"))
        one.stand(0.4 + 0.1 * (k % 3))
    one.stand(4)


def trembling(one: Display) -> None:
    one.stand(1, "0.0")
    one.flow(30, 2)
    shown(one, noisy(3, 0.3, 8, float(one.grams)))


def flagged(one: Display) -> None:
    one.stand(1, "0.0")
    for k in range(20):
        one.show(k * 3, stable=False)
    for _ in range(30):
        one.show(57, stable=True)
    for _ in range(10):
        one.show(60, stable=True)


def touched(one: Display) -> None:
    one.stand(2, "100.0")
    shown(one, ["103", "98", "104", "99.2", "101", "100.4"])
    one.stand(3, "100.0")


def lifted(one: Display) -> None:
    one.stand(2, "312.4")
    shown(one, ["150", "0.0"])
    one.stand(2, "0.0")
    shown(one, ["160", "312.4"])
    one.stand(2)


def creeping(one: Display) -> None:
    one.stand(2, "500.0")
    for k in range(1200):
        one.show(Decimal(5000 + k // 60) / 10)


def wasting(one: Display) -> None:
    for k in range(600):
        one.show(Decimal(4000 - k // 4) / 10)


def overloaded(one: Display) -> None:
    one.stand(1, "100.0")
    one.none(over=True)
    one.none(fault="E1")
    one.none()
    one.stand(2, "100.0")


def slowly(one: Display) -> None:
    one.stand(1, "0.0")
    one.flow(0.4, 15)
    one.stand(5)


def in_bursts(one: Display) -> None:
    one.stand(1, "0.0")
    for rest in (0.5, 0.8, 1.1, 1.5, 2.0):
        one.flow(25, 1)
        one.stand(rest)
    one.stand(4)


def shaken(one: Display) -> None:
    one.stand(1, "200.0")
    one.tremble(5, ["199", "201.5", "200.2", "198.7", "200.9"])
    one.stand(4, "200.0")


def taken_out(one: Display) -> None:
    one.stand(2, "300.0")
    one.flow(-10, 2)
    one.stand(3)


def keyed(one: Display) -> None:
    one.stand(2, "432.4")
    one.stand(2, "0.0")
    one.flow(20, 2)
    one.stand(2)


def keyed_in_mid_pour(one: Display) -> None:
    one.stand(1, "0.0")
    one.flow(40, 2)
    one.show("0.0")
    one.flow(40, 2)
    one.stand(3)


def asleep(one: Display) -> None:
    one.stand(2, "432.4")
    one.t += 30
    one.stand(3, "0.2")
    one.t += 30
    one.stand(2, "300.0")


DISPLAYS: dict[str, Callable[[Display], None]] = {
    one.__name__.replace("_", " "): one
    for one in (
        *(a_pour, in_drops, trembling, flagged, touched, lifted, creeping, wasting),
        *(overloaded, slowly, in_bursts, shaken, taken_out),
        *(keyed, keyed_in_mid_pour, asleep),
    )
}


def told(one: Finding) -> str:
    level = f" {one.level.grams} u {one.level.u_g}" if one.level else ""
    shift = f" shift {one.shift_g}" if one.shift_g else ""
    drift = f" drift {one.drift_g_s:.4f}" if one.drift_g_s else ""
    said = " ".join(word for word in (one.why, "rising" * one.rising, "firm" * one.firm) if word)
    return f"{one.phase}{level}{drift}{shift} {said}".rstrip()


def watched(one: Watched) -> str:
    grams = "" if one.grams is None else f" {one.grams} u {one.sigma_g}"
    net = "" if one.net_g is None else f" net {one.net_g}"
    return f"{one.phase}{grams} {one.why}{' firm' * one.firm}{net}".rstrip()


def changes(rows: Iterator[tuple[float, str]]) -> str:
    out: list[str] = []
    last = ""
    for t, said in rows:
        if said != last:
            out.append(f"{t:.2f} {said}")
        last = said
    return "; ".join(out)


def lines() -> list[str]:
    out = []
    for name, play in DISPLAYS.items():
        for hz in (10.0, 4.0):
            one = Display(Settling(D), hz)
            play(one)
            out.append(f"{name} | {hz:g} Hz | {changes((it.t, told(it)) for it in one.findings)}")
            learned = one.detector.learned()
            out.append(f"{name} | {hz:g} Hz | learned | {numbers(learned)}")
        watch = Watch(D)
        seen = [watch.feed(it) for it in readings(play)]
        out.append(f"{name} | watched | {changes((it.t, watched(it)) for it in seen)}")
    return [*out, *poured_from(), *guided(), *cued()]


def readings(play: Callable[[Display], None]) -> list[Reading]:
    """What a display shows while it is played."""
    kept: list[Reading] = []

    class Keeping(Settling):
        def feed(self, reading: Reading) -> Finding:
            kept.append(reading)
            return super().feed(reading)

    play(Display(Keeping(D)))
    return kept


def numbers(value: object) -> str:
    """Fields of what was learned, to four digits: floats differ in their last."""
    rows = {one.name: getattr(value, one.name) for one in fields(value)}  # type: ignore[arg-type]
    return ", ".join(
        f"{key} {one:.4g}" if isinstance(one, float) else f"{key} {one}"
        for key, one in rows.items()
    )


def guided() -> list[str]:
    out = []
    for name, kitchen in (("a jug", Kitchen()), ("unheeding", Kitchen(heeds=False, hz=4.0))):
        for slow in (True, False):
            cues = Cues(slow=slow)
            for n, one in enumerate(pours(kitchen, 7, 4, cues), start=1):
                rows = enumerate(one.cues)
                said = changes((float(k), cue) for k, cue in rows)
                numbers = f"{one.error_s:.4f} {one.landing_off_s:.4f} {one.sigma_s:.4f}"
                out.append(f"{name} | slow {slow} | pour {n} | {said} | {numbers}")
    return out


def poured_from() -> list[str]:
    """A bottle that stands on the scale, from which it is poured."""
    out = []
    before = Settling(D)
    for k in range(40):
        before.feed(Reading(k / 10, Decimal(5000 + (k * 7) % 5) / 10, Unit.G))
    for name, learned in (("fresh", None), ("learned", before.learned())):
        own, leaving = Settling(D, learned), Leaving(D, learned)
        one = Display()
        rows = []
        shows = [*["900.0"] * 15, *[f"{900 - 4 * k}" for k in range(20)], *["824.0"] * 20]
        shows += [*["412.0", "0.0"], *["0.0"] * 15, *["400.0", "824.1"], *["824.1"] * 25]
        for grams in shows:
            one.t += 0.1
            reading = Reading(one.t, Decimal(grams), Unit.G, None, shown=Decimal(grams))
            found = leaving.feed(reading, own.feed(reading), Decimal(1))
            rows.append((one.t, f"{told(found)} {len(leaving.evidence())} {leaving.off}"))
        out.append(f"poured from | {name} | {changes(iter(rows))}")
    return out


def cued() -> list[str]:
    """The guide by hand: what it says of each reading, and where it thinks that it will land."""
    out = []
    for slow in (True, False):
        bench = taught(slow=slow)
        bench.stand(1)
        bench.flow(40, 3)
        for over in (False, True, True, True):
            bench.t += 0.1
            bench.told.append(bench.guide.feed(bench.t, None, over=over))
        bench.flow(40, 3)
        bench.flow(12, 2)
        bench.stand(2)
        bench.pour()
        said = [
            f"{one.t:.1f} {one.cue} {one.landing_g} {one.sigma_g}"
            for k, one in enumerate(bench.told)
            if k % 3 == 0 or one.cue is not bench.told[k - 1].cue
        ]
        lead = bench.guide.lead
        out.append(f"cued | slow {slow} | {'; '.join(said)} | {numbers(lead)}")
    return out


def test_displays_and_pours_are_answered_as_they_were() -> None:
    assert KEPT.beside(lines()) == ([], [])


if __name__ == "__main__":
    KEPT.write(lines())
