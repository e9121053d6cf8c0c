"""Without a check character a flipped digit is a weight like any other: it must decide nothing."""

from __future__ import annotations

import random
from collections import Counter
from decimal import Decimal

import pytest

from weighd.domain.settling import Settling
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shape_text import named

DIGITS = b"0123456789"


def flipped(line: bytes, chance: random.Random) -> bytes:
    """The line with one of its digits replaced by another."""
    at = chance.choice([n for n, code in enumerate(line) if code in DIGITS])
    other = chance.choice([code for code in DIGITS if code != line[at]])
    return line[:at] + bytes([other]) + line[at + 1 :]


def pours(chance: random.Random, hz: int) -> list[Decimal]:
    """What the display shows: four pours, and three seconds of rest after each."""
    shown, out = Decimal("0.0"), []
    for goal in map(Decimal, ("0.0", "153.4", "287.9", "412.6")):
        while shown < goal:
            shown = min(goal, shown + Decimal(chance.randrange(20, 90)) / 10)
            out.append(shown)
        out += [goal] * 3 * hz
    return out


@pytest.mark.parametrize("hz", [5, 10, 20])
@pytest.mark.parametrize("share", [0.0, 0.02, 0.1, 0.3])
def test_no_claim_rests_on_a_flipped_digit(share: float, hz: int) -> None:
    """However often digits flip, a claim is what stood there; there are only fewer of them."""
    count: Counter[str] = Counter()
    for seed in range(8):
        chance = random.Random(seed)
        decoder, settling = LineDecoder(named("digits-unit"), joined=True), Settling(Decimal("0.1"))
        for n, shown in enumerate(pours(chance, hz)):
            line = b"%9.1f g\r\n" % shown
            bad = chance.random() < share
            (reading,) = decoder.feed(n / hz, flipped(line, chance) if bad else line)
            level = settling.feed(reading).level
            count["wrong readings"] += reading.grams != shown
            if level is not None:
                count["claims"] += 1
                count["wrong claims"] += abs(level.grams - shown) > Decimal("0.3")
    assert count["wrong claims"] == 0
    assert bool(count["wrong readings"]) == bool(share)
    assert count["claims"] > (300 if share <= 0.02 else 0)
