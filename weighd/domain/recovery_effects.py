"""What a mix that is not the planned one will be like, in numbers and in words.

Each word follows from one number by a rule that stands beside it. The directions are common
practice, no source; how much is worth a word is our own choice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from weighd.domain.recovery_ranges import Mix

_NONE, _HUNDRED = Decimal(0), Decimal(100)
STATUS = "common practice, no source; from how much on, our own choice"
#: Where nothing else is said: a display cabinet (common practice, no source).
SERVED_C = Decimal(-12)


class Word(StrEnum):
    """What one would say of it."""

    SOFTER = "softer"
    HARDER = "harder"
    SWEETER = "sweeter"
    LESS_SWEET = "less sweet"
    ICIER = "icier"
    DENSER = "less icy"
    RICHER = "richer"
    LEANER = "leaner"
    SANDIER = "may turn sandy"


@dataclass(frozen=True, slots=True)
class Effect:
    """A number of the mix before and after, ``None`` where it is not known, and a word for it.

    ``of``    what it is of, in ``unit``. ``word`` is ``None`` where there is nothing to say of it.
    ``rule``  when the word is said.
    """

    of: str
    unit: str
    before: Decimal | None
    after: Decimal | None
    word: Word | None
    rule: str


@dataclass(frozen=True, slots=True)
class _Rule:
    of: str
    unit: str
    value: Callable[[Mix], Decimal | None]
    more: Word | None
    less: Word | None
    from_: Decimal
    said: str
    relative: bool = False
    #: The word for more is said only where the value is at least this.
    above: Decimal = _NONE


def _share(key: str) -> Callable[[Mix], Decimal | None]:
    def value(mix: Mix) -> Decimal | None:
        found = mix.value((key,))
        return found.low if found is not None and found.known else None

    return value


def _ice(at_c: Decimal) -> Callable[[Mix], Decimal | None]:
    def value(mix: Mix) -> Decimal | None:
        thin, thick = mix.frozen.thin, mix.frozen.thick
        if thin is None or thin != thick:
            return None
        share = thin.frozen(at_c)
        return None if share is None else share * _HUNDRED

    return value


def effects(before: Mix, after: Mix, served_c: Decimal = SERVED_C) -> tuple[Effect, ...]:
    """What one mix is like beside another. ``served_c``  the temperature it is eaten at, in °C."""
    return tuple(_effect(one, before, after) for one in _rules(served_c))


def _rules(served_c: Decimal) -> tuple[_Rule, ...]:
    one = Decimal(1)
    return (
        _Rule(
            "ice",
            "% of the water",
            _ice(served_c),
            Word.HARDER,
            Word.SOFTER,
            one,
            f"from 1 point of ice more or less at {served_c} °C",
        ),
        _Rule(
            "sweetness",
            "% as sucrose",
            _share("sweetness"),
            Word.SWEETER,
            Word.LESS_SWEET,
            Decimal("0.03"),
            "from 3 % of it more or less",
            relative=True,
        ),
        _Rule(
            "total_solids",
            "%",
            _share("total_solids"),
            Word.DENSER,
            Word.ICIER,
            Decimal("0.5"),
            "from 0.5 points of solids more or less",
        ),
        _Rule(
            "fat",
            "%",
            _share("fat"),
            Word.RICHER,
            Word.LEANER,
            Decimal("0.3"),
            "from 0.3 points of fat more or less",
        ),
        _Rule(
            "lactose_in_water",
            "g in 100 g water",
            _share("lactose_in_water"),
            Word.SANDIER,
            None,
            Decimal("0.1"),
            "above 9.7 g in 100 g of water (the limit of every class says where from)",
            above=Decimal("9.7"),
        ),
        _Rule(
            "freezing_point",
            "°C",
            _share("freezing_point"),
            None,
            None,
            one,
            "told by the ice at the temperature it is eaten at",
        ),
    )


def _effect(rule: _Rule, before: Mix, after: Mix) -> Effect:
    was, now = rule.value(before), rule.value(after)
    word = None
    if was is not None and now is not None:
        least = rule.from_ * abs(was) if rule.relative else rule.from_
        if now - was >= least and now >= rule.above and (least or now > was):
            word = rule.more
        elif was - now >= least and (least or now < was):
            word = rule.less
    return Effect(rule.of, rule.unit, was, now, word, rule.said)
