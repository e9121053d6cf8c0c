"""Limits of a class of product: what a mix of that kind usually holds, each limit with its source.

A profile is TOML: ``[classes.ID]`` with a name and ``[[classes.ID.limits]]``, each with ``of`` (a
quantity, or a list to be added), ``min`` and ``max`` or one of them, and ``source``: where the
limit was read, or ``common practice, no source``, or ``from memory``. The class ``every`` holds for
all. A limit is no law by being listed: local codes come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from weighd.domain.composition import Amount, Composition
from weighd.domain.contents import KEYS
from weighd.domain.errors import ConfigError
from weighd.domain.facts_text import number
from weighd.domain.freezing import Freezing
from weighd.domain.toml_text import Path, TomlError, dotted, line_of, lines, load

EVERY = "every"
#: Quantities that are no plain share of the mix, with their units.
SPECIAL = {
    "lactose_in_water": "g in 100 g water",
    "msnf_in_serum": "% of milk solids-not-fat and water",
    "freezing_point": "°C",
    "density": "kg/L with the air in it",
    "solids_per_litre": "kg/L with the air in it",
}
_NO_SHARE = ("cost", "volume_ml", "kcal", "kj")
_PERCENT = tuple(key for key in KEYS if not key.endswith("_c") and key not in _NO_SHARE)
#: Every quantity that a limit can be of, with its unit.
QUANTITIES = {**dict.fromkeys(_PERCENT, "%"), **SPECIAL}
_HUNDRED = Decimal(100)
_FIELDS = ("of", "min", "max", "source")
_LONGEST_ID = 80


class Standing(StrEnum):
    """How a mix stands to a limit."""

    INSIDE = "inside"
    OUTSIDE = "outside"
    UNKNOWN = "cannot be told"


@dataclass(frozen=True, slots=True)
class Limit:
    """``of`` is from ``least`` to ``most`` in ``unit``, either of which may be ``None``."""

    of: tuple[str, ...]
    least: Decimal | None
    most: Decimal | None
    source: str

    @property
    def unit(self) -> str:
        """The unit of the limit."""
        return SPECIAL.get(self.of[0], "%")


@dataclass(frozen=True, slots=True)
class ProductClass:
    """A class of product by its ``id``."""

    id: str
    name: str
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """A limit held against a mix; ``value`` is ``None`` where nothing can be said of it."""

    kind: str
    limit: Limit
    value: Amount | None
    standing: Standing
    why: str = ""


def judged(
    kinds: Mapping[str, ProductClass],
    kind: str,
    mix: Composition,
    frozen: Freezing,
    overrun_percent: Decimal | None = None,
) -> list[Finding]:
    """Each limit of ``every`` class and of ``kind`` (empty for none), held against a mix.

    ``overrun_percent`` is the air by volume of mix; limits of density need it.
    Raises :class:`ConfigError` where there is no such class.
    """
    if kind and kind not in kinds:
        raise ConfigError(
            "unknown-class",
            f'No class of product is called "{kind}".',
            remedy=f"There are: {', '.join(sorted(set(kinds) - {EVERY}))}.",
        )
    out = []
    for named in dict.fromkeys((EVERY, kind)):
        for limit in kinds[named].limits if named in kinds else ():
            value, why = value_of(limit.of, mix, frozen, overrun_percent)
            out.append(Finding(named, limit, value, standing_of(limit, value), why))
    return out


def standing_of(limit: Limit, value: Amount | None) -> Standing:
    """How a value stands to a limit; ``None`` is not known."""
    if value is None:
        return Standing.UNKNOWN
    below = limit.least is not None and value.low < limit.least
    above = limit.most is not None and value.high > limit.most
    if not below and not above:
        return Standing.INSIDE
    all_below = limit.least is not None and value.high < limit.least
    all_above = limit.most is not None and value.low > limit.most
    return Standing.OUTSIDE if all_below or all_above else Standing.UNKNOWN


def value_of(
    names: tuple[str, ...], mix: Composition, frozen: Freezing, overrun: Decimal | None
) -> tuple[Amount | None, str]:
    """A quantity of a mix, as a limit names it; ``None`` with a word of why where it has none."""
    first = names[0]
    if first == "lactose_in_water":
        if not mix.of("water").high:
            return None, "there is no water in it"
        return mix.in_water, ""
    if first == "msnf_in_serum":
        serum = mix.of("msnf").plus(mix.of("water"))
        if not serum.high:
            return None, "there is neither water nor milk in it"
        return mix.of("msnf").per(serum).times(_HUNDRED), ""
    if first == "freezing_point":
        least = frozen.thin.depression() if frozen.thin else None
        most = frozen.thick.depression() if frozen.thick else None
        if least is None or most is None:
            return None, "its freezing point is not known"
        return Amount(-most, -least, mix.of("sucrose_equivalent").missing), ""
    if first in ("density", "solids_per_litre"):
        if overrun is None:
            return None, "it needs the overrun"
        density = mix.density_g_ml.times(_HUNDRED / (_HUNDRED + overrun))
        if first == "density":
            return density, ""
        share = mix.percent("total_solids")
        return Amount(
            density.low * share.low / _HUNDRED, density.high * share.high / _HUNDRED, share.missing
        ), ""
    total = mix.percent(first)
    for name in names[1:]:
        total = total.plus(mix.percent(name))
    return total, ""


class _Reader:
    def __init__(
        self, document: Mapping[str, Any], file: str, where: dict[Path, int] | None = None
    ) -> None:
        self.document, self.file, self.where = document, file, where or {}

    def wrong(self, path: Path, message: str) -> ConfigError:
        line = line_of(self.where, path)
        place = f"{self.file}, line {line}" if line else self.file
        return ConfigError("bad-limits", f"{message}.", where=f"{place}, {dotted(path)}")

    def table(self, value: Any, path: Path, allowed: tuple[str, ...]) -> Mapping[str, Any]:
        if not isinstance(value, dict):
            raise self.wrong(path, "this must be a table")
        for key in value:
            if allowed and key not in allowed:
                raise self.wrong(
                    (*path, key),
                    f'"{key}" is not a field here; the fields are {", ".join(allowed)}',
                )
        return value

    def text(self, table: Mapping[str, Any], path: Path, key: str) -> str:
        value = table.get(key)
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            raise self.wrong((*path, key), f'"{key}" must be a line of text')
        return value.strip()


def read_limits(text: str, file: str) -> dict[str, ProductClass]:
    """The classes in a profile, by their ids. Raises :class:`ConfigError` with file and line."""
    try:
        document = load(text)
    except TomlError as error:
        place = f"{file}, line {error.line}" if error.line else file
        raise ConfigError(
            "not-toml", f"This is not readable TOML: {error}.", where=place
        ) from error
    return _classes(_Reader(document, file, lines(text)))


def limits_of(document: Mapping[str, Any], file: str) -> dict[str, ProductClass]:
    """:func:`read_limits` of what a text would hold; errors name no line."""
    return _classes(_Reader(document, file))


def _classes(reader: _Reader) -> dict[str, ProductClass]:
    document = reader.table(reader.document, (), ("classes",))
    classes = reader.table(document.get("classes", {}), ("classes",), ())
    for identity in classes:
        if not identity.strip() or len(identity) > _LONGEST_ID or not identity.isprintable():
            raise reader.wrong(
                ("classes", identity), f"a class is named by 1 to {_LONGEST_ID} plain characters"
            )
    return {identity: _class(reader, identity, table) for identity, table in classes.items()}


def _class(reader: _Reader, identity: str, value: Any) -> ProductClass:
    path: Path = ("classes", identity)
    table = reader.table(value, path, ("name", "limits"))
    rows = table.get("limits", [])
    if not isinstance(rows, list):
        raise reader.wrong((*path, "limits"), '"limits" is a list: [[...limits]]')
    limits = [_limit(reader, row, (*path, "limits", n)) for n, row in enumerate(rows)]
    return ProductClass(identity, reader.text(table, path, "name"), tuple(limits))


def _limit(reader: _Reader, value: Any, path: Path) -> Limit:
    table = reader.table(value, path, _FIELDS)
    named = table.get("of")
    names = tuple(named) if isinstance(named, list) else (named,)
    texts = all(isinstance(one, str) for one in names)
    plain = texts and all(one in _PERCENT for one in names)
    if not names or not (plain or (texts and len(names) == 1 and names[0] in SPECIAL)):
        raise reader.wrong(
            (*path, "of"),
            f'"of" names a quantity, or a list of parts to add; quantities are '
            f"{', '.join((*_PERCENT, *SPECIAL))}",
        )
    ends: list[Decimal | None] = []
    for key in ("min", "max"):
        try:
            ends.append(number(table[key]) if key in table else None)
        except ValueError as error:
            raise reader.wrong((*path, key), f'"{key}": {error}') from error
    least, most = ends
    if least is None and most is None:
        raise reader.wrong(path, 'a limit needs "min" or "max"')
    if least is not None and most is not None and least > most:
        raise reader.wrong((*path, "min"), '"min" is above "max"')
    return Limit(names, least, most, reader.text(table, path, "source"))
