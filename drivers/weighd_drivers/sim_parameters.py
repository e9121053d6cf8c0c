"""What a simulated bench scale and the stuff poured on it are like.

Every value here is our own guess at a plausible kitchen bench; none was measured. They stand in
one frozen value so that a benchmark can vary them widely and say which it used.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

RATES_HZ = (2.0, 80.0)


@dataclass(frozen=True, slots=True)
class Print:
    """How a report is printed.

    ``status``   with the status word in front (``ST,+   1234.5 g``), or only digits and unit.
    ``decimal``  the decimal sign, ``"."`` or ``","``.
    ``unit``     ``"g"``, or ``"kg"`` with three more decimals.
    """

    status: bool = True
    decimal: str = "."
    unit: str = "g"

    def __post_init__(self) -> None:
        if self.decimal not in (".", ","):
            raise ValueError(f"{self.decimal!r} is not a decimal sign; use '.' or ','")
        if self.unit not in ("g", "kg"):
            raise ValueError(f"a simulated scale prints g or kg, not {self.unit!r}")


@dataclass(frozen=True, slots=True)
class BenchParameters:
    """A kitchen bench scale, its surroundings, and how things are poured. All guesses.

    Masses in grams, times in seconds, frequencies in hertz, flows in grams a second.
    """

    # The scale.
    capacity_g: Decimal = Decimal(6000)
    interval_g: Decimal = Decimal("0.1")
    rate_hz: float = 10.0
    #: Standard deviation of the time between reports, as a share of it.
    jitter: float = 0.04
    printing: Print = Print()
    #: Mechanics: natural frequency and damping ratio of pan and spring.
    resonance_hz: float = 12.0
    damping: float = 0.18
    #: Share of a load that is added slowly after it, and how slowly.
    creep: float = 0.00002
    creep_s: float = 300.0
    #: Converter: samples a second, noise of one sample, and slow wander of the zero.
    sample_hz: float = 80.0
    noise_g: float = 0.03
    wander_g: float = 0.01
    wander_s: float = 8.0
    #: Digital filter: length of the running mean, delay after it, and the jump above which it
    #: starts afresh (0: never).
    filter_s: float = 0.3
    delay_s: float = 0.05
    jump_g: float = 0.0
    #: The scale calls itself stable when this long within so many intervals.
    stable_s: float = 0.5
    stable_intervals: int = 1
    #: Whether it follows a small drift of its empty pan.
    zero_tracking: bool = False

    # What is poured, and how it falls.
    fall_m: float = 0.15
    #: How fast the flow follows the hand, how much it gurgles (share), and how often.
    hand_s: float = 0.12
    gurgle: float = 0.2
    gurgle_hz: float = 2.5
    #: After the jug stops: drops on average, their size, the time between them.
    drops: float = 2.0
    drop_g: float = 0.05
    drop_gap_s: float = 0.35

    # Handling.
    #: How long a vessel takes to come down or up, and a swap in between.
    handling_s: float = 0.18
    swap_s: float = 0.8
    #: A spoon reaching in presses this hard, this long.
    spoon_press_g: float = 12.0
    spoon_s: float = 0.3
    #: A bump rings: amplitude, frequency, decay.
    bump_g: float = 60.0
    bump_hz: float = 7.0
    bump_s: float = 0.25

    def __post_init__(self) -> None:
        if self.interval_g <= 0 or self.capacity_g < 10 * self.interval_g:
            raise ValueError("a scale has an interval above zero and at least ten of them")
        if not RATES_HZ[0] <= self.rate_hz <= RATES_HZ[1]:
            raise ValueError(f"rate_hz is from {RATES_HZ[0]:g} to {RATES_HZ[1]:g}")
        if not 0 < self.resonance_hz <= 60 or not 0 < self.damping <= 2:
            raise ValueError("resonance_hz is above 0 up to 60, damping above 0 up to 2")
        if not 5 <= self.sample_hz <= 400:
            raise ValueError("sample_hz is from 5 to 400")
        lengths = (self.creep_s, self.wander_s, self.hand_s, self.handling_s, self.bump_s)
        if min(*lengths, self.drop_gap_s, self.stable_s, self.fall_m) <= 0:
            raise ValueError("lengths of time and the height of fall are above zero")
        rest = (self.noise_g, self.wander_g, self.filter_s, self.delay_s, self.jump_g)
        if min(*rest, self.jitter, self.gurgle, self.drops, self.drop_g, self.swap_s) < 0:
            raise ValueError("noise, filter, jitter, gurgle and drops are not below zero")
