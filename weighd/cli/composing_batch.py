"""A batch as weighed beside its plan, on the command line."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from weighd.storage.address import Place


def print_batch(
    file: Path | None,
    batch: str,
    config: Path | None,
    database: Place | None,
    prices: Path | None,
    limits: Path | None,
    kind: str,
    overrun_percent: Decimal | None,
    at_c: tuple[Decimal, ...],
    *,
    as_text: bool,
) -> None:
    """Print a batch out of an export or, without one, of the database.

    Raises errors of weighd's for what cannot be read, and for a batch of which nothing is known.
    """
    from weighd.domain.against_plan import SERVED_C
    from weighd.main import batch_files as of
    from weighd.station.comparing import draw_weighed, weighed
    from weighd.station.comparing_words import tell_weighed

    folded, known, folder = of.batch_priced(file, batch, config, database, prices)
    kinds = of.kinds_for(limits, file.parent if file else folder)
    one = weighed(
        folded,
        kinds,
        kind=kind,
        at_c=at_c or SERVED_C,
        overrun_percent=overrun_percent,
        prices=known,
    )
    drawn = draw_weighed(one)
    if as_text:
        for line in tell_weighed(drawn):
            print(line)
    else:
        print(json.dumps(drawn, indent=2, ensure_ascii=False))
