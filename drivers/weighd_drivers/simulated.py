"""Driver ``simulated``: a bench scale that exists only here, for the demo and for tests.

It runs with the station's clock, sends bytes like a scale on a cable, and can be worked by hand
through :class:`SimulatedBench`. What it prints is described in ``sim_indicator``.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable, Mapping
from decimal import Decimal, InvalidOperation
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from weighd.station.ports import Decoder, Deliver, Discovered, Driver, Now
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shape_text import named
from weighd_drivers.sim_handle import SimulatedBench
from weighd_drivers.sim_parameters import RATES_HZ, BenchParameters, Print

#: The shape of the simulated scale's reports, as the line decoder knows it.
SHAPE = "status-sign-digits-unit"
#: Longest and shortest pause of the source, seconds of the wall.
LONGEST_PAUSE, SHORTEST_PAUSE = 0.05, 0.001


def _decimal_text(value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal):
        raise ValueError("give a mass in grams, like 0.1")  # noqa: TRY004 - pydantic wants it
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        raise ValueError(f"{value!r} is not a mass in grams, like 0.1") from None
    if not number.is_finite() or number <= 0:
        raise ValueError("a mass here is above zero")
    return format(number, "f")


Grams = Annotated[str, BeforeValidator(_decimal_text)]


class SimulatedSettings(BaseModel):
    """``[scales.NAME]`` with ``driver = "simulated"``; more of it in :class:`BenchParameters`."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    name: str = Field("bench", description="Tells several simulated scales apart.")
    seed: int = Field(1, description="What its noise is drawn from: the same seed, the same noise.")
    capacity_g: Grams = Field("6000", description="The most that it shows, in grams.")
    interval_g: Grams = Field("0.1", description="The step of its display, in grams.")
    step_g: Grams | None = Field(
        None,
        description="The step of its display in a configuration, where interval_g is what the "
        "station was told of it.",
    )
    rate_hz: float = Field(
        10.0, ge=RATES_HZ[0], le=RATES_HZ[1], description="Reports a second that it sends."
    )
    noise_g: float = Field(
        0.03, ge=0, description="Standard deviation of the noise of one sample, in grams."
    )
    wander_g: float = Field(
        0.01, ge=0, description="How far its zero wanders slowly, as a standard deviation in grams."
    )
    filter_s: float = Field(
        0.3, ge=0, le=10, description="Length of the running mean that it shows, in seconds."
    )
    delay_s: float = Field(
        0.05, ge=0, le=10, description="How late a report is besides, in seconds."
    )
    gurgle: float = Field(
        0.2, ge=0, le=2, description="How unevenly it is poured, as a share of the flow."
    )
    drops: float = Field(
        2.0, ge=0, le=20, description="Drops that fall after the pour was stopped, on average."
    )
    zero_tracking: bool = Field(
        default=False, description="Whether it follows a small drift of its empty pan."
    )
    zero_at_plug: bool = Field(
        default=False, description="Whether it comes back at zero when it is plugged in again."
    )

    def parameters(self) -> BenchParameters:
        """The bench these settings describe."""
        return BenchParameters(
            capacity_g=Decimal(self.capacity_g),
            interval_g=Decimal(self.step_g or self.interval_g),
            rate_hz=self.rate_hz,
            noise_g=self.noise_g,
            wander_g=self.wander_g,
            filter_s=self.filter_s,
            delay_s=self.delay_s,
            gurgle=self.gurgle,
            drops=self.drops,
            zero_tracking=self.zero_tracking,
            printing=Print(),
        )


class SimulatedSource:
    """Runs a simulated bench with the station's clock; ``bench`` is the handle to it."""

    def __init__(self, bench: SimulatedBench) -> None:
        self.bench = bench

    def run(self, deliver: Deliver, stop: threading.Event, now: Now) -> None:
        """Deliver what the scale sends until ``stop`` is set."""
        bench = self.bench
        bench.begin(now)
        # The station's clock may run faster than the wall: learn how fast, to sleep rightly.
        speed, wall, station = 1.0, time.monotonic(), now()
        try:
            while not stop.is_set():
                for signal in bench.collect():
                    deliver(signal)
                ahead = (bench.next_t - now()) / max(speed, 0.01)
                stop.wait(min(max(ahead, SHORTEST_PAUSE), LONGEST_PAUSE))
                passed = time.monotonic() - wall
                if passed > 0.1:
                    speed = max((now() - station) / passed, 0.01)
                    wall, station = time.monotonic(), now()
        finally:
            bench.end()


class SimulatedDriver:
    """The driver; ``benches`` holds the handle of the newest source made under each ``name``."""

    name = "simulated"

    def __init__(self) -> None:
        self.benches: dict[str, SimulatedBench] = {}

    def check(self, settings: Mapping[str, object]) -> Mapping[str, object]:
        """The settings with defaults; raises ``ValueError`` naming what is wrong."""
        checked = SimulatedSettings.model_validate(dict(settings))
        checked.parameters()
        return checked.model_dump()

    def source(self, settings: Mapping[str, object]) -> SimulatedSource:
        """A bench with nothing on it, and its reports."""
        wanted = SimulatedSettings.model_validate(dict(settings))
        bench = SimulatedBench(
            wanted.parameters(), seed=wanted.seed, zero_at_plug=wanted.zero_at_plug
        )
        self.benches[wanted.name] = bench
        return SimulatedSource(bench)

    def decoder(self, settings: Mapping[str, object]) -> Decoder:  # noqa: ARG002 - one shape
        """The ordinary line decoder with the shape that the bench prints."""
        return _decoder(joined=False)

    def redecoder(self, spec: Mapping[str, object]) -> Decoder:
        """The decoder that ``spec`` describes; ``KeyError`` where it is not this driver's."""
        decoder = _decoder(joined=True)
        if dict(spec) != dict(decoder.spec):
            raise KeyError(f"the simulated scale has no decoder {dict(spec)!r}")
        return decoder

    def discover(self) -> Iterable[Discovered]:
        """Nothing: a simulated scale is used because somebody asked for it."""
        return ()


def _decoder(*, joined: bool) -> Decoder:
    return LineDecoder(named(SHAPE), joined=joined)


DRIVER = SimulatedDriver()
_satisfies: Driver = DRIVER
