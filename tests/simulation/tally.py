"""What came by in simulations, so that what never comes is told."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from tests.simulation.house import POINTS
from weighd.domain.addition import Do, Phase
from weighd.domain.batch import Cause, Kind
from weighd.domain.lot_record import KINDS as LOT_KINDS
from weighd.domain.metrology import Verdict
from weighd.domain.process_orders import Ask
from weighd.domain.zero import Moved

ROOT = Path(__file__).parents[2]
_CODE = re.compile(r'(?:OperatorError|FormulaError)\(\s*"([a-z-]+)"')
#: Kinds that only more than one station, other keys or archives make, and codes of their commands.
_NOT_HERE = frozenset({"lot shared", "lot overdrawn", "put away", "key changed"})


class Tally(Counter[str]):
    """Counts of what happened, by ``group: name``."""

    def saw(self, group: str, name: object, times: int = 1) -> None:
        self[f"{group}: {name}"] += times


@cache
def known() -> dict[str, tuple[str, ...]]:
    """Everything that could come, by group."""
    kinds = [str(one) for one in Kind] + ["scale checked", *LOT_KINDS]
    return {
        "phase": tuple(str(one) for one in Phase),
        "verdict": tuple(str(one) for one in Verdict),
        "held": tuple(str(one) for one in Cause),
        "zero moved": tuple(str(one) for one in Moved),
        "command": (*(str(one) for one in Do), *(str(one) for one in Ask), "start", *_OTHERS),
        "entry": tuple(dict.fromkeys(one for one in kinds if one not in _NOT_HERE)),
        "died": POINTS,
        "refused": tuple(sorted(set(_codes()))),
    }


_OTHERS = (
    "start check", "it is right", "stop check", "keep vessel", "forget vessel", "forget scale",
    "receive lot", "open lot", "block lot", "release lot", "adjust lot", "use up lot", "correct",
    "countersign", "record yield", "dismiss",
)  # fmt: skip


def _codes() -> Iterator[str]:
    """The refusals that the program's text has, of the domain and the station."""
    for folder in ("domain", "station"):
        for file in sorted((ROOT / "weighd" / folder).glob("*.py")):
            yield from _CODE.findall(file.read_text("utf-8"))


def table(tally: Tally) -> str:
    """The counts as text, group by group, and what never came."""
    out = []
    groups: dict[str, list[tuple[str, int]]] = {}
    for key, count in tally.items():
        group, _, name = key.partition(": ")
        groups.setdefault(group, []).append((name, count))
    for group in sorted(groups):
        rows = sorted(groups[group], key=lambda it: (-it[1], it[0]))
        out.append(f"{group}: " + ", ".join(f"{name} {count:,}" for name, count in rows))
    out += [f"never {group}: {', '.join(names)}" for group, names in never(tally).items()]
    return "\n".join(out)


def never(tally: Tally) -> dict[str, list[str]]:
    """What could come and did not, by group."""
    found = {
        group: [one for one in names if not tally[f"{group}: {one}"]]
        for group, names in known().items()
    }
    return {group: names for group, names in found.items() if names}
