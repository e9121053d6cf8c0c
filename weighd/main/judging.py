"""What the configured scales can judge of a formula, before any of them was heard."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from weighd.config import Config
from weighd.domain import mass
from weighd.domain.batch import Scale
from weighd.domain.formula import Formula
from weighd.domain.plan import Plan, Vessels
from weighd.domain.sizing import Size
from weighd.station import opening, outlook
from weighd.station.planning import make_plan, read_vessels
from weighd.station.sizing import Sized, as_planned


def configured(config: Config) -> dict[str, Scale | None]:
    """Every configured scale by name; ``None`` where its interval is not configured."""
    return {
        name: None
        if one.interval_g is None
        else Scale(name, one.driver, one.interval_g, one.max_g, one.accuracy, one.min_g)
        for name, one in config.scales.items()
    }


def planned(formula: Formula, config: Config, vessels: Vessels) -> Plan:
    """The best plan for a scaled formula on the configured scales.

    Raises :class:`ConfigError`, ``interval-missing``, where none has its interval configured.
    """
    scales = configured(config)
    known = [(one, 0.0) for one in scales.values() if one is not None]
    if scales and not known:
        name = next(iter(scales))
        raise config.wrong(
            ("scales", name),
            "has no interval_g: what a scale can judge is not known before it was heard",
            code="interval-missing",
        )
    return make_plan(formula, known, config.judging.as_rule(), vessels)


def sized(formula: Formula, size: Size, config: Config | None) -> Sized:
    """A formula at a size; with a configuration, at the steps of the scales that a plan gives it.

    Raises :class:`ConfigError` as :func:`planned` does.
    """
    exact = formula.scaled(size.batch_g)
    if config is None:
        return Sized(size, exact, exact)
    vessels = read_vessels(**config.plan.as_text())
    known = [one for one in configured(config).values() if one is not None]
    return as_planned(size, exact, planned(exact, config, vessels), known)


def prospects(formula: Formula, config: Config) -> Iterator[str]:
    """What each configured scale can judge of a formula at its size, in lines to print."""
    rule = config.judging.as_rule()
    guard = f"guarded by {rule.k.normalize():f} u" if rule.guard(rule.k) else "simple"
    scales = configured(config)
    for name, scale in scales.items():
        if scale is None:
            yield outlook.not_heard(name)["text"]
            continue
        others = [one for one in scales.values() if one is not None and one is not scale]
        planned = opening.plan(formula, replace(scale, max_g=None))
        yield f"Scale {name}, interval {mass.text(scale.interval_g)} g, {guard}:"
        told = outlook.warnings(planned, scale, rule, others)
        yield from (f"  {one['text']}" for one in told)
        fine = sum(outlook.weighed_by(one, scale, rule) for one in planned)
        yield f"  {fine} of {len(planned)} additions can be weighed and judged."
