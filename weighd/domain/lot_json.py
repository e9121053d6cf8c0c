"""Lots and goods as JSON values: in entries, in a session's header, and as a start keeps them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any

from weighd.domain import mass
from weighd.domain.lot_uses import Drawn
from weighd.domain.lots import Goods, Lot

#: The fields of goods that are texts.
TEXTS = tuple(one.name for one in fields(Goods) if one.name != "quantity_g")


def goods_as_json(goods: Goods) -> dict[str, str]:
    """Goods as an entry has them; what is not known is left out."""
    told = {key: value for key, value in asdict(goods).items() if key in TEXTS and value}
    return {**told, "quantity_g": mass.text(goods.quantity_g)}


def goods_of(body: Mapping[str, Any]) -> Goods:
    """The inverse of :func:`goods_as_json`. Raises ``KeyError``, ``TypeError``, ``ValueError``."""
    texts = {key: str(body[key]) for key in TEXTS if key in body}
    if not texts.get("ingredient"):
        raise ValueError("goods are of an ingredient")
    return Goods(**texts, quantity_g=mass.parse(body["quantity_g"]))


def lot_as_json(lot: Lot) -> dict[str, Any]:
    """A lot whole, so that :func:`lot_of` makes it again (for the header of a session)."""
    return {
        "lot": lot.code,
        "goods": goods_as_json(lot.goods),
        **{
            key: getattr(lot, key)
            for key in (
                "received",
                "by",
                "seq",
                "hash",
                "opened",
                "keeps_days",
                "blocked",
                "used_up",
                "uses",
            )
        },
        "used_g": mass.text(lot.drawn.g),
        "used_u2": mass.text(lot.drawn.u2),
        "count_g": None if lot.count_g is None else mass.text(lot.count_g),
        "adjusted": [[one, mass.text(change), counted] for one, change, counted in lot.adjusted],
        **_shared(lot),
    }


def _shared(lot: Lot) -> dict[str, Any]:
    """What other stations have to do with a lot; nothing where none has."""
    told: dict[str, Any] = {"station": lot.station, "there": lot.there, "blocks": lot.blocks}
    told |= {"lifted": sorted(lot.lifted), "replaced": sorted(lot.replaced)}
    told |= {"stood": lot.stood if any(lot.stood) else ()}
    told["elsewhere"] = {name: drawn_as_json(one) for name, one in lot.elsewhere}
    told["overdrawn_g"] = mass.text(lot.overdrawn_g) if lot.overdrawn_g else ""
    return {key: value for key, value in told.items() if value}


def drawn_as_json(drawn: Drawn) -> dict[str, Any]:
    """A sum of what was drawn, so that :func:`drawn_of` makes it again."""
    return {"g": mass.text(drawn.g), "u2": mass.text(drawn.u2), "uses": drawn.uses}


def drawn_of(row: Mapping[str, Any]) -> Drawn:
    """The inverse of :func:`drawn_as_json`. Raises ``KeyError``, ``TypeError``, ``ValueError``."""
    return Drawn(mass.parse(row["g"]), mass.parse(row["u2"]), whole(row["uses"]))


def whole(value: Any) -> int:
    """A whole number. Raises ``TypeError``: JSON also has some that no whole number is made of."""
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError(f"{str(value)[:40]!r} is no whole number")
    return value


def pairs(value: Any) -> Iterable[tuple[Any, Any]]:
    """The keys of an object with their values. Raises ``TypeError`` for what is none."""
    if not isinstance(value, Mapping):
        raise TypeError(f"{str(value)[:40]!r} is no object")
    return value.items()


def lot_of(row: Mapping[str, Any]) -> Lot:
    """The inverse of :func:`lot_as_json`. Raises ``KeyError``, ``TypeError`` or ``ValueError``."""
    return Lot(
        str(row["lot"]),
        goods_of(row["goods"]),
        str(row["received"]),
        str(row["by"]),
        whole(row["seq"]),
        str(row["hash"]),
        str(row["opened"]),
        None if row["keeps_days"] is None else whole(row["keeps_days"]),
        str(row["used_up"]),
        Drawn(mass.parse(row["used_g"]), mass.parse(row["used_u2"]), whole(row["uses"])),
        count_g=None if row["count_g"] is None else mass.parse(row["count_g"]),
        adjusted=tuple(
            (str(one), mass.parse(change), bool(counted))
            for one, change, counted in row["adjusted"]
        ),
        station=str(row.get("station", "")),
        there=str(row.get("there", "")),
        blocks=_blocks(row),
        lifted=frozenset(row.get("lifted", ())),
        replaced=frozenset(row.get("replaced", ())),
        stood=_stood(row.get("stood") or ("", "")),
        elsewhere=tuple(
            (str(name), drawn_of(one)) for name, one in pairs(row.get("elsewhere", {}))
        ),
        overdrawn_g=mass.parse(row.get("overdrawn_g", "0")),
    )


def _blocks(row: Mapping[str, Any]) -> tuple[tuple[str, str, str], ...]:
    reason = row["blocked"]  # all that sessions from before stations shared have
    given = row.get("blocks") or ([("", "", reason)] if reason else [])
    return tuple((str(one), str(station), str(reason)) for one, station, reason in given)


def _stood(given: Any) -> tuple[str, str]:
    at, station = given
    return str(at), str(station)


class KeptLot:
    """A lot as :func:`kept_lot` keeps it: read whole when it is asked for (``LotLater``)."""

    __slots__ = ("_lot", "code", "ingredient", "origin", "over", "supplier_lot", "text")

    def __init__(self, row: Sequence[Any], text: str) -> None:
        code, station, there, ingredient, supplier_lot, over = row
        self.code: str = code
        self.origin: tuple[str, str] = (station, there)
        self.ingredient: str = ingredient
        self.supplier_lot: str = supplier_lot
        self.over: bool = over
        self.text = text
        self._lot: Lot | None = None

    @property
    def whole(self) -> Lot:
        """All of it. Raises as :func:`lot_of`."""
        if self._lot is None:
            self._lot = lot_of(json.loads(self.text))
        return self._lot

    @property
    def row(self) -> list[Any]:
        """What it is looked for by, as JSON values."""
        return [self.code, *self.origin, self.ingredient, self.supplier_lot, self.over]


def kept_lot(lot: Lot) -> KeptLot:
    """A lot as text, with what it is looked for by."""
    goods = lot.goods
    row = (lot.code, *lot.origin, goods.ingredient, goods.supplier_lot, bool(lot.used_up))
    return KeptLot(row, json.dumps(lot_as_json(lot), ensure_ascii=False, separators=(",", ":")))
