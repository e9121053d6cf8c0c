"""What a formula says of the thing it makes: how long it keeps, how it is stored, its trade number.

It stands on labels, and gives the use-by date of what a batch made.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

FIELD = "product"
FIELDS = ("keeps_days", "storage", "gtin")
MOST_DAYS = 3650
_LONGEST = 120
_GTIN = re.compile(r"[0-9]{14}")


@dataclass(frozen=True, slots=True)
class Product:
    """``keeps_days``: through so many days after it was weighed; ``gtin`` has 14 digits."""

    keeps_days: int | None = None
    storage: str = ""
    gtin: str = ""

    def content(self) -> dict[str, Any]:
        """As the content of a formula has it; nothing for what is not stated."""
        days = {} if self.keeps_days is None else {"keeps_days": self.keeps_days}
        texts = {"storage": self.storage, "gtin": self.gtin}
        return days | {key: value for key, value in texts.items() if value}


def product_of(content: Mapping[str, Any]) -> Product:
    """The inverse of :meth:`Product.content`. Raises ``ValueError`` naming what cannot be."""
    days, storage = content.get("keeps_days"), content.get("storage", "")
    gtin = content.get("gtin", "")
    if days is not None and (
        isinstance(days, bool) or not isinstance(days, int) or not 0 <= days <= MOST_DAYS
    ):
        raise ValueError(f'"keeps_days" is a whole number of days up to {MOST_DAYS}')
    if not isinstance(storage, str) or len(storage) > _LONGEST or not storage.isprintable():
        raise ValueError(f'"storage" is a text of up to {_LONGEST} characters')
    if not isinstance(gtin, str) or (
        gtin and not (_GTIN.fullmatch(gtin) and check_digit_fits(gtin))
    ):
        raise ValueError('"gtin" has 14 digits, of which the last checks the others')
    return Product(days, storage.strip(), gtin)


def check_digit_fits(digits: str) -> bool:
    """GS1's check digit: weights 3, 1, 3, ... from the right (GS1 General Specifications, 7.9)."""
    body = [int(one) for one in digits[-2::-1]]
    total = sum(one * (3 if n % 2 == 0 else 1) for n, one in enumerate(body))
    return (10 - total % 10) % 10 == int(digits[-1])


def read_product(document: Mapping[str, Any], wrong: Callable[..., Exception]) -> Product:
    """The table ``[product]`` of a formula file. Raises what ``wrong`` makes."""
    table = document.get(FIELD, {})
    if not isinstance(table, dict):
        raise wrong((FIELD,), f'"{FIELD}" must be a table')
    for key in table:
        if key not in FIELDS:
            message = f'"{key}" is not a field here; the fields are {", ".join(FIELDS)}'
            raise wrong((FIELD, key), message, "unknown-field")
    try:
        return product_of(table)
    except ValueError as error:
        key = next((one for one in FIELDS if f'"{one}"' in str(error)), FIELD)
        raise wrong((FIELD, key), str(error)) from error


def product_toml(product: Product) -> list[str]:
    """The table as lines of a formula file; none where nothing is stated."""
    content = product.content()
    if not content:
        return []
    return [
        "",
        f"[{FIELD}]",
        *(f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in content.items()),
    ]
