"""A recall of a lot, tried: where all of it is, and whether the amounts add up.

What was received is to be found again as used, thrown away, or left. What is left is known only
where it was counted; the difference is then told with the uncertainty of what was weighed out,
each weighing taken as independent of the others (GUM 5.1.2), and what was counted as exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from weighd.domain.lots import Lot


@dataclass(frozen=True, slots=True)
class Balance:
    """The masses of a lot in grams.

    ``difference_g``  received less used, thrown away and left as counted; ``None`` where nobody
                      counted: then what is left is only what the books say.
    ``used_g``        at all stations, as far as that is known; ``u_g``, its standard uncertainty.
    """

    received_g: Decimal
    used_g: Decimal
    wasted_g: Decimal
    left_g: Decimal
    u_g: Decimal
    difference_g: Decimal | None

    @property
    def adds_up(self) -> bool | None:
        """Whether the difference is within 2 u; ``None`` where it is not known."""
        return None if self.difference_g is None else abs(self.difference_g) <= 2 * self.u_g


def balance(lot: Lot) -> Balance:
    """The mass balance of a lot, by its entries and what was weighed."""
    counted = lot.count_g is not None
    return Balance(
        lot.goods.quantity_g,
        lot.used_g + lot.elsewhere_g,
        lot.wasted_g,
        lot.left_g,
        lot.u_used_g,
        -lot.counted_g if counted else None,
    )
