"""The configured scales: what a station knows of each, and where its bytes come from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import structlog

from weighd.config import Config
from weighd.domain import mass
from weighd.domain.check import Terms, doubts
from weighd.domain.errors import ScaleError
from weighd.domain.metrology import Rule
from weighd.main.drivers import load_driver
from weighd.station.known import Known, identity
from weighd.station.ports import Driver, Source
from weighd.station.scale import ScaleState, Setup

log = structlog.get_logger("weighd")


@dataclass(frozen=True, slots=True)
class Plugged:
    """A configured scale: what the station knows of it, and where its bytes come from."""

    setup: Setup
    source: Source
    settings: Mapping[str, Any]
    #: Which scale it is, as far as its configuration says.
    identity: str


def plug(config: Config) -> list[Plugged]:
    """Every configured scale. Raises :class:`ConfigError` naming the line that is wrong."""
    out = []
    drivers: dict[str, Driver] = {}  # looked for once, not once a scale
    for name, section in config.scales.items():
        try:
            driver = drivers.get(section.driver) or load_driver(section.driver)
            drivers[section.driver] = driver
        except ScaleError as error:
            raise config.wrong(
                ("scales", name, "driver"), str(error).rstrip("."), code=error.code
            ) from error
        try:
            settings = driver.check(section.settings)
        except ValueError as error:
            raise config.driver_error(name, error) from error
        setup = Setup(
            name,
            section.driver,
            driver.decoder(settings),
            section.interval_g,
            section.max_g,
            section.min_g,
            section.accuracy,
            section.silent_after_s,
            check=section.routine(config.judging.k),
        )
        told: dict[str, Any] = {"driver": section.driver}
        for key in ("max_g", "min_g", "interval_g"):
            value = getattr(section, key)
            if value is not None:
                told[key] = mass.text(value)
        told |= {k: v for k, v in section.accuracy.as_json().items() if v is not None}
        told["silent_after_s"] = section.silent_after_s
        if setup.check is not None:
            told["check"] = setup.check.as_json()
            tell_doubts(setup, config.judging.as_rule())
        # A driver's key of the same name is not what the station goes by.
        which = identity(section.driver, settings)
        out.append(Plugged(setup, driver.source(settings), {**settings, **told}, which))
    return out


def tell_doubts(setup: Setup, rule: Rule) -> None:
    """Log what is not right about a scale's check before anybody has made it."""
    facts = ScaleState(setup).as_scale()
    if setup.check is None or facts is None:
        return
    plan = setup.check.plan
    for text in doubts(plan, Terms(facts, plan.rule or rule, plan.limit_g)):
        log.warning("check of a scale", scale=setup.name, why=text)


def knowing(plugged: list[Plugged], known: Mapping[str, tuple[str, Known]]) -> list[Plugged]:
    """The same scales with what was learned of them, where they are still the ones it was of."""
    out = []
    for one in plugged:
        which, learned = known.get(one.setup.name, ("", None))
        same = learned is not None and one.setup.interval_g in (None, learned.interval_g)
        if same and which == one.identity:
            one = replace(one, setup=replace(one.setup, known=learned))
        out.append(one)
    return out
