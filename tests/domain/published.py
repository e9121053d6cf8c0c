"""The published check values of mixes: fixtures/tables/frozen.json has the sources."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.domain.mixes import (
    Mix,
)
from weighd.domain.composition import Composition, compose
from weighd.domain.freezing import Solution, freezing

ROOT = Path(__file__).parents[2]
CHECKS: dict[str, Any] = {
    row["name"]: row
    for row in json.loads((ROOT / "fixtures/tables/frozen.json").read_text("utf-8"))["checks"]
}


def near(name: str, got: object, key: str) -> None:
    """What was got is the published value, within the tolerance that stands beside it."""
    row = CHECKS[name]
    allowed = row["tolerance"]
    wanted = pytest.approx(
        row["expected"][key], abs=allowed.get("abs", 1e-12), rel=allowed.get("rel", 0)
    )
    values = [float(one) for one in got] if isinstance(got, list) else float(str(got))
    assert values == wanted, row["source"]


def percent(mix: Composition, key: str) -> Decimal:
    amount = mix.percent(key)
    assert amount.known, amount.missing
    return amount.low


def solution(mix: Mix) -> Solution:
    frozen = freezing(compose(mix))
    assert frozen.thin is not None
    assert frozen.thin == frozen.thick
    return frozen.thin
