"""What a batch made: when, how much went in, until when it is to be used, and it as a lot."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Batch, Status
from weighd.domain.days import day_of, plus_days
from weighd.domain.errors import OperatorError


def product_of(batch: Batch) -> Mapping[str, Any]:
    """What its formula says of the thing it makes; empty where it says nothing."""
    product: Mapping[str, Any] = batch.formula["content"].get("product", {})
    return product


def day_made(batch: Batch) -> str:
    """The day it was weighed, as far as it was."""
    return day_of(batch.weighed or batch.closed or batch.opened)


def use_by(batch: Batch) -> str:
    """Until when what it made is to be used; empty where its formula does not say."""
    product = product_of(batch)
    return plus_days(day_made(batch), product["keeps_days"]) if "keeps_days" in product else ""


def in_g(batch: Batch) -> Decimal:
    """Grams that were weighed into it."""
    return sum((one.net_g for one in batch.accepted), Decimal(0))


def as_goods(batch: Batch, goods: Mapping[str, Any]) -> dict[str, Any]:
    """Goods that a batch of ours made, with how much of it there is and until when to use it, where
    that is not given. Raises :class:`OperatorError`, ``not-made``."""
    if batch.status in (Status.OPEN, Status.ABANDONED):
        raise OperatorError(
            "not-made",
            f"Batch {batch.id} is {batch.status}: nothing was made that could be a lot.",
            where="made_in",
        )
    return {
        **goods,
        "quantity_g": goods["quantity_g"] or mass.text(in_g(batch)),
        "use_by": goods["use_by"] or use_by(batch),
    }
