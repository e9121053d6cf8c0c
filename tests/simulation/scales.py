"""Scales of a simulated kitchen: true loads in, bytes out, and what their cables do to them.

Physics is in floats; what a display shows is a whole number of intervals. Each report is kept with
the load that it was of, which is what a record is held to.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import NamedTuple

from tests.drivers.wire_world import Load, Print
from tests.simulation.chance import Chance
from weighd_drivers import sim_indicator
from weighd_drivers import sim_parameters as sim

_LETTERS = ("S", "M", "O", "U")
_STX, _ETX = b"\x02", b"\x03"
#: The print of the demonstration's scale; it is written by ``sim_indicator``.
OWN = "status-sign-digits-unit"
#: How each other shipped shape is written here; without a status, an overload has no digits.
PRINTS = {
    "digits": Print("digits", width=9, unit_at="none"),
    "digits-unit": Print("digits-unit", width=9),
    "letter-digits-unit": Print("letter", words=("S", "M", "S", "S"), after=" ", width=9),
    "status-digits-unit": Print(
        "status", words=("ST,GS", "US,GS", "OL,GS", "UL,GS"), width=9, texts=("-------", "-------")
    ),
    "unit-when-stable": Print("unit-when-stable", width=9, unit_at="stable"),
    "framed": Print("framed", words=_LETTERS, after="", sign="plus", start=_STX, end=_ETX),
    "framed-xor": Print(
        "framed-xor", words=_LETTERS, after="", sign="plus", start=_STX, end=_ETX,
        check=("xor", "byte", "data+end"), check_at="end",
    ),
}  # fmt: skip
SHAPES = (OWN, *PRINTS)
#: Those of them that can say that a load is above capacity.
SAYS_OVER = (OWN, "status-digits-unit")
#: How long it takes to set something down, or to lift it: milliseconds.
EASE_MS = 320
#: Intervals above Max up to which digits are shown.
BEYOND = 9


@dataclass(eq=False)
class Vessel:
    """A vessel with what is truly in it, grams by ingredient."""

    name: str
    empty_g: float
    inside: dict[str, float] = field(default_factory=dict)

    @property
    def contents_g(self) -> float:
        return sum(self.inside.values())

    @property
    def mass_g(self) -> float:
        return self.empty_g + sum(self.inside.values())

    def add(self, ingredient: str, grams: float) -> None:
        self.inside[ingredient] = self.inside.get(ingredient, 0.0) + grams

    def take(self, grams: float) -> dict[str, float]:
        """Take so much of what is in it, mixed as it is."""
        whole = self.contents_g
        share = min(1.0, grams / whole) if whole > 0 else 0.0
        out = {name: one * share for name, one in self.inside.items()}
        for name, one in out.items():
            self.inside[name] -= one
        return out


class Shown(NamedTuple):
    """A report as the scale meant it: when, what it showed in grams, and of what."""

    ms: int
    grams: Decimal | None
    load_g: float
    zero_g: float
    vessel: str


@dataclass(frozen=True)
class Make:
    """What a scale is. ``alpha``: how much of a step its filter lets through in a report;
    ``tremble`` of its display at rest, in intervals."""

    name: str
    interval: str
    max_g: int
    rate_hz: int
    shape: str
    unit: str
    alpha: float
    tremble: float
    silent_after_s: float = 2.0

    @property
    def settings(self) -> dict[str, object]:
        """As a session's header has it."""
        return {
            "driver": "serial",
            "port": "/dev/ttyS0",
            "shape": self.shape,
            "max_g": str(self.max_g),
            "interval_g": self.interval,
            "silent_after_s": self.silent_after_s,
        }


class Scale:
    """One scale and its cable.

    ``zero_g``   what it takes for nothing; ``plugged``, whether its bytes come through; ``ms``, the
                 time of the world.
    """

    def __init__(self, make: Make, chance: Chance) -> None:
        self.make, self.name = make, make.name
        self.d = float(make.interval)
        exponent = Decimal(make.interval).as_tuple().exponent
        assert isinstance(exponent, int)
        decimals = -exponent + (3 if make.unit == "kg" else 0)
        self._one = Decimal(make.interval)
        self._kilo = make.unit == "kg"
        self._own = sim.Print(unit=make.unit)
        given = PRINTS.get(make.shape, PRINTS["digits"])
        self._print = replace(given, decimals=decimals, unit=make.unit)
        self.period = round(1000 / make.rate_hz)
        self.due = chance.randint(1, self.period)
        self._on: Vessel | None = None
        self._extra_g = 0.0
        #: What lay there before the last change, and since when: hands are not so quick.
        self._before_g, self._since, self.ms = 0.0, -EASE_MS, 0
        self.zero_g = 0.0
        self.plugged = True
        self.asleep = False
        self.log: list[Shown] = []
        self._times: list[int] = []
        self._shown = 0.0
        self._still = 0

    @property
    def on(self) -> Vessel | None:
        """The vessel that stands there."""
        return self._on

    @on.setter
    def on(self, vessel: Vessel | None) -> None:
        self._ease()
        self._on = vessel

    @property
    def extra_g(self) -> float:
        """What lies there besides."""
        return self._extra_g

    @extra_g.setter
    def extra_g(self, grams: float) -> None:
        self._ease()
        self._extra_g = grams

    def _ease(self) -> None:
        self._before_g, self._since = self.felt_g, self.ms

    @property
    def load_g(self) -> float:
        """What lies there."""
        return (self._on.mass_g if self._on else 0.0) + self._extra_g

    @property
    def felt_g(self) -> float:
        """What presses on the pan now, while something is set down or lifted."""
        past = self.ms - self._since
        if past >= EASE_MS:
            return self.load_g
        return self._before_g + (self.load_g - self._before_g) * past / EASE_MS

    @property
    def display_g(self) -> float:
        """What it would show once it is at rest."""
        return self.load_g - self.zero_g

    @property
    def at_rest(self) -> bool:
        """Whether what it shows has come to what lies there."""
        return self._still >= 3

    def zero(self) -> None:
        """Its own key, or being switched on: what lies there now is nothing."""
        self.zero_g = self.load_g
        self._shown = 0.0

    def report(self, ms: int, chance: Chance) -> bytes:
        """What it sends now."""
        self.ms = ms
        load, make = self.felt_g, self.make
        off = load - self.zero_g - self._shown
        self._still = self._still + 1 if -self.d < off < self.d else 0
        if -0.05 * self.d < off < 0.05 * self.d:
            self._shown += off
        else:
            self._shown += off * make.alpha
        value = self._shown
        if make.tremble:
            value += make.tremble * self.d * (2 * chance.random() - 1)
        counts = round(value / self.d)
        grams: Decimal | None = counts * self._one
        why = ""
        if value > make.max_g + BEYOND * self.d and make.shape in SAYS_OVER:
            grams, why = None, "over"
        self.log.append(Shown(ms, grams, load, self.zero_g, self._on.name if self._on else ""))
        self._times.append(ms)
        if make.shape == OWN:
            return sim_indicator.printed(grams, stable=self.at_rest, layout=self._own)
        shown = grams.scaleb(-3) if grams is not None and self._kilo else grams
        return self._print.report(Load(shown, self.at_rest, why))

    def meant(self, ms: int, grams: Decimal, within_ms: int) -> Shown | None:
        """The newest report up to ``ms`` that showed these grams; ``None`` for none."""
        high = bisect_right(self._times, ms)
        low = bisect_left(self._times, ms - within_ms)
        for n in range(high - 1, low - 1, -1):
            if self.log[n].grams == grams:
                return self.log[n]
        return None

    def around(self, ms: int, within_ms: int) -> list[Shown]:
        """The reports up to ``ms``."""
        return self.log[bisect_left(self._times, ms - within_ms) : bisect_right(self._times, ms)]
