"""Entries of lots: of no batch, each made from what was asked and what the book of lots says.

``lot received``   a lot comes to be: code, goods, who and when
``lot opened``     from now on it keeps ``keeps_days`` days, where that is known
``lot blocked``    it is not to be used, with a reason; ``lot released`` lifts that, with a reason
``lot adjusted``   a count (``count_g``) or waste (``waste_g``), with a reason
``lot used up``    nothing is left of it; what the books still had is written off (``left_g``)
``lot shared``     an entry of these that another station made and this one was told of
``lot overdrawn``  stations together drew more of it than there was (both: ``lot_shared``)

What is done to a lot that another station received says which it is there (``of``), since its code
here may be another. Stock that was reckoned with what other stations drew says how much that was
(``elsewhere_g``).

A receipt or an adjustment is put right by a new entry of the same kind, which names the old one by
its hash (``corrects``) and says why. The body that a command makes is made again to verify it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.days import read_day
from weighd.domain.errors import OperatorError
from weighd.domain.formula import LARGEST_G, read_amount
from weighd.domain.lot_json import TEXTS, drawn_as_json, goods_as_json
from weighd.domain.lots import NOTHING, Goods, Lot, LotBook
from weighd.domain.record import Entry
from weighd.domain.whose import named

#: Nothing keeps longer once it is opened, in days.
MOST_DAYS = 3650
RECEIVED, OPENED = "lot received", "lot opened"
BLOCKED, RELEASED = "lot blocked", "lot released"
ADJUSTED, USED_UP = "lot adjusted", "lot used up"
SHARED, OVERDRAWN = "lot shared", "lot overdrawn"
#: What is done to a lot somewhere, and every other station is told of.
TOLD = (RECEIVED, OPENED, BLOCKED, RELEASED, ADJUSTED, USED_UP)
KINDS = (*TOLD, SHARED, OVERDRAWN)

#: A code of our own: it goes into addresses and onto labels.
_CODE = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9])?")
_INGREDIENT = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_GTIN = re.compile(r"[0-9]{14}")
_LONGEST = {"note": 300}
_COLDEST, _HOTTEST = Decimal(-100), Decimal(150)


def is_lot_entry(entry: Entry) -> bool:
    """Whether an entry is of a lot: it belongs to no batch."""
    return entry.kind in KINDS and "batch" not in entry.body


# --- making them ---------------------------------------------------------------------------------


def receive_body(
    book: LotBook,
    station: str,
    given: Mapping[str, Any],
    by: str,
    *,
    corrects: str = "",
    reason: str = "",
    sharing: bool = False,
) -> dict[str, Any]:
    """The body of ``lot received``.

    ``given``     fields of :class:`Goods` as texts (``quantity_g`` may have a unit), and ``lot``,
                  our code; one is made where it is empty.
    ``corrects``  the code of the lot whose receipt this one stands in the place of.
    ``sharing``   other stations are told of it: a code that is made names this one, and what was
                  drawn from it before (``drawn_before``) counts, as it does with them.
    Raises :class:`OperatorError`: ``bad-lot`` naming the field, ``lot-exists``, ``unknown-lot``,
    ``needs-reason``.
    """
    goods = read_goods(given)
    old = _known(book, corrects) if corrects else None
    if old is not None:
        _needs(reason, "the receipt is put right")
        if old.station:
            raise _not_now(old, f"was received at {old.station}: put its receipt right there")
        code = old.code
    else:
        code = (
            str(given.get("lot", "") or "").strip()
            or goods.made_in
            or _next_code(book, station if sharing else "")
        )
        _check_code(book, station, code, goods)
    body: dict[str, Any] = {"lot": code, "by": named(by), **goods_as_json(goods)}
    if old is not None:
        body |= {"corrects": old.hash, "reason": reason}
    elif sharing and code in book.strangers:
        body["drawn_before"] = drawn_as_json(book.strangers[code])
    return body


def lot_body(
    book: LotBook,
    do: str,
    code: str,
    given: Mapping[str, Any],
    by: str,
    reason: str,
    *,
    own: str = "",
) -> dict[str, Any]:
    """The body of any other entry of a lot; ``do`` is its kind, ``own`` the name of this station.

    Raises :class:`OperatorError`: ``unknown-lot``, ``needs-reason``, ``bad-lot``, ``not-now``.
    """
    lot = _known(book, code)
    body: dict[str, Any] = {"lot": lot.code, "by": named(by)}
    if lot.station:
        body["of"] = {"station": lot.station, "lot": lot.there}
    if do == OPENED:
        if lot.opened:
            raise _not_now(lot, f"was opened on {lot.opened[:10]} already")
        if (days := given.get("keeps_days")) is not None:
            body["keeps_days"] = _days(days)
    elif do == BLOCKED:
        _needs(reason, "a lot is blocked")
        if lot.blocked:
            raise _not_now(lot, "is blocked already")
        body["reason"] = reason
    elif do == RELEASED:
        _needs(reason, "a lot is released")
        if not lot.blocked:
            raise _not_now(lot, "is not blocked")
        body["reason"] = reason
        if own and any(station not in (own, "") for _, station, _ in lot.blocks):
            body["lifts"] = sorted(one for one, _, _ in lot.blocks)
    elif do == ADJUSTED:
        _needs(reason, "stock is put right")
        body |= {**_adjustment(lot, given), **_elsewhere(lot), "reason": reason}
    elif do == USED_UP:
        if lot.used_up:
            raise _not_now(lot, "was said to be used up already")
        body |= {"left_g": mass.text(lot.left_g), **_elsewhere(lot)}
    else:
        raise OperatorError("unknown-command", f'"{do}" is not something done to a lot.')
    return body


def _adjustment(lot: Lot, given: Mapping[str, Any]) -> dict[str, str]:
    asked = {key: given[key] for key in ("count_g", "waste_g") if given.get(key) not in (None, "")}
    if len(asked) != 1:
        raise bad("count_g", "either what was counted or what was thrown away has to be given")
    old = str(given.get("corrects", "") or "")
    if old and all(old != one for one, _, _ in lot.adjusted):
        raise bad("corrects", "there is no such adjustment of this lot")
    ((key, text),) = asked.items()
    grams = read_grams(str(text), key, least=NOTHING)
    before = lot.left_g - _moved(lot, old)
    change = grams - before if key == "count_g" else -grams
    told = {key: mass.text(grams), "change_g": mass.text(change)}
    return {**told, "corrects": old} if old else told


def _elsewhere(lot: Lot) -> dict[str, str]:
    return {"elsewhere_g": mass.text(lot.elsewhere_g)} if lot.elsewhere_g else {}


def _moved(lot: Lot, old: str) -> Decimal:
    return next((change for one, change, _ in lot.adjusted if one == old), NOTHING)


# --- reading what was given ----------------------------------------------------------------------


def read_goods(given: Mapping[str, Any]) -> Goods:
    """Goods as somebody gave them. Raises :class:`OperatorError`, ``bad-lot`` naming the field."""
    texts = {key: str(given.get(key) or "").strip() for key in TEXTS}
    for key, text in texts.items():
        longest = _LONGEST.get(key, 80)
        if len(text) > longest or not text.isprintable():
            raise bad(key, f"it is longer than {longest} characters, or cannot be shown")
    if not _INGREDIENT.fullmatch(texts["ingredient"]):
        raise bad("ingredient", "say which ingredient it is, by its id")
    texts["name"] = texts["name"] or texts["ingredient"]
    for key in ("use_by", "best_before"):
        try:
            texts[key] = read_day(texts[key]) if texts[key] else ""
        except ValueError as error:
            raise bad(key, str(error)) from error
    if texts["gtin"] and not _GTIN.fullmatch(texts["gtin"]):
        raise bad("gtin", "a trade number has 14 digits here; shorter ones have zeros in front")
    if texts["temperature_c"]:
        texts["temperature_c"] = _temperature(texts["temperature_c"])
    grams = read_grams(str(given.get("quantity_g") or ""), "quantity_g")
    return Goods(**texts, quantity_g=grams)


def read_grams(text: str, field: str, *, least: Decimal | None = None) -> Decimal:
    """An amount as typed: ``"25 kg"``, or a bare number of grams. Raises as :func:`read_goods`."""
    plain = text.strip().replace(",", ".")
    try:
        grams = mass.parse(plain)
    except ValueError:
        try:
            grams = read_amount(text)
        except ValueError as error:
            raise bad(field, str(error)) from error
    if grams < (least if least is not None else NOTHING) or (least is None and grams == 0):
        raise bad(field, "it has to be above zero" if least is None else "it is below zero")
    if grams > LARGEST_G:
        raise bad(field, f"it is more than {LARGEST_G} g")
    return grams


def bad(field: str, message: str) -> OperatorError:
    """What to raise for a field that cannot be so."""
    return OperatorError(
        "bad-lot", f"{message[:1].upper()}{message[1:]}.", where=field, remedy="Put it right."
    )


def _temperature(text: str) -> str:
    try:
        value = mass.parse(text.replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError as error:
        raise bad("temperature_c", f"{error}; write degrees Celsius, like 3.5") from error
    if not _COLDEST <= value <= _HOTTEST:
        raise bad("temperature_c", "no goods come in that cold or hot")
    return mass.text(value)


def _days(days: object) -> int:
    if isinstance(days, bool) or not isinstance(days, int) or not 0 <= days <= MOST_DAYS:
        raise bad("keeps_days", "say in whole days how long it keeps once it is opened")
    return days


def _needs(reason: str, why: str) -> None:
    if not reason.strip():
        raise OperatorError(
            "needs-reason",
            f"Where {why}, a reason has to be given.",
            where="reason",
            remedy="Say why: it stays in the record.",
        )


def _known(book: LotBook, code: str) -> Lot:
    lot = book.find(code)
    if lot is None:
        raise OperatorError(
            "unknown-lot",
            f'No lot "{code}" was received here.',
            where="lot",
            remedy="Look at the code on its label, or receive it first.",
        )
    return lot


def _not_now(lot: Lot, why: str) -> OperatorError:
    return OperatorError("not-now", f"Lot {lot.code} {why}.", where=f"lot {lot.code}")


def _at_another(lot: Lot | None) -> str:
    return f", at {lot.station}" if lot is not None and lot.station else ""


def _next_code(book: LotBook, station: str) -> str:
    start = f"{station[:30]}-R" if station else "R-"
    n = len(book) + 1
    while book.get(code := f"{start}{n:04d}") is not None:
        n += 1
    return code


def _check_code(book: LotBook, station: str, code: str, goods: Goods) -> None:
    if not _CODE.fullmatch(code):
        raise bad("lot", "a lot's code is up to 40 letters, digits, dots, hyphens, underlines")
    if book.get(code) is not None:
        raise OperatorError(
            "lot-exists",
            f"A lot {code} was received before{_at_another(book.get(code))}.",
            where="lot",
            remedy="Give it another code, or none.",
        )
    batch = re.fullmatch(rf"{re.escape(station)}-[0-9]{{4,}}", code, re.IGNORECASE)
    if batch and goods.made_in != code:
        raise bad("lot", "that is the code of what is made in a batch here; give another")
    if goods.made_in and goods.made_in != code:
        raise bad("lot", f"what was made in batch {goods.made_in} has that as its code")
