"""``weighd scales --learn PORT``: how a scale writes, worked out while it is used."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from weighd.cli import exits
from weighd.domain import mass
from weighd.domain.errors import ScaleError

if TYPE_CHECKING:
    from weighd_drivers.learn import Learned, Stage, Way

#: What is asked for, and whether the scale then carries something.
STEPS = (
    ("Take everything off the scale.", False),
    ("Put something on it, and let it rest.", True),
    ("Take it off again.", False),
)


@dataclass(frozen=True)
class Asked:
    """What was asked for: seconds to listen at each step, and what is known beforehand."""

    seconds: float
    load: str = ""
    unit: mass.Unit | None = None
    weight: str = "gross"
    request: str = ""
    guided: bool = True


def learn(port: str, out: Path, asked: Asked) -> None:
    """Learn the scale at ``port``, write its shape to ``out`` and say how to use it.

    Raises :class:`ScaleError` where the port cannot be opened, and ``typer.Exit`` where nothing
    could be learned.
    """
    from weighd_drivers.learn import Learner, conclude
    from weighd_drivers.serial_port import open_to_learn

    load_g = _amount(asked.load) if asked.load else None
    if out.exists():
        raise ScaleError(
            "file-exists",
            "There is a file of that name already.",
            where=str(out),
            remedy="Name another with --out.",
        )
    with open_to_learn(port) as line:
        learner = Learner(line, time.monotonic, print)
        print(f"Listening to {port}.")
        way, finding = learner.search(asked.request)
        if finding.shape is None and (finding.rubbish or not finding.heard):
            _fail(" ".join(finding.words))
        print(f"It is heard at {way}.")
        stages = _stages(learner.listen, way, asked.seconds, guided=asked.guided)
    learned = conclude(
        way, stages, unit=asked.unit, load_g=load_g, wanted=asked.weight, name=_name(out)
    )
    _tell(learned, stages, port, out)


def _stages(
    listen: Callable[[Way, float], bytes], way: Way, seconds: float, *, guided: bool
) -> list[Stage]:
    from weighd_drivers.learn import Stage

    if not guided:
        return [Stage(loaded=False, data=listen(way, seconds))]
    out = []
    for asked, loaded in STEPS:
        print(f"{asked} Then press Enter.", flush=True)
        sys.stdin.readline()
        out.append(Stage(loaded, listen(way, seconds)))
    return out


def _tell(learned: Learned, stages: list[Stage], port: str, out: Path) -> None:
    from weighd_drivers.shape_text import dump

    finding = learned.finding
    for line in (*finding.words, *learned.words):
        print(f"    {line}")
    if finding.shape is None:
        data = b"".join(stage.data for stage in stages)
        _fail(f"{len(data)} bytes came, like {data[-60:]!r}.")
    assert finding.shape is not None
    print(f"    {finding.read} reports read, {finding.rejected} not.")
    text = "".join(f"# {line}\n" for line in (*finding.words, *learned.words))
    out.write_text(text + dump(finding.shape), "utf-8")
    print(f"The wire shape is in {out}: read it, change it, share it.")
    print("To use it:")
    way = learned.way
    print("    [scales.bench]")
    print('    driver = "serial"')
    print(f'    port = "{port}"')
    print(f"    baud = {way.baud}")
    if way.bits != 8:
        print(f"    data_bits = {way.bits}")
    if way.parity != "none":
        print(f'    parity = "{way.parity}"')
    if way.request:
        print(f"    request = '{way.request}'")
    print(f'    shape = "{out}"')
    if not learned.sure:
        print("weighd is not sure of this: look at the numbers before you trust them.")
        raise typer.Exit(exits.SCALE)


def _amount(text: str) -> Decimal:
    try:
        grams = mass.parse(text.removesuffix("g").strip())
    except ValueError as error:
        raise typer.BadParameter(f"{text!r} is no weight in grams", param_hint="--load") from error
    if grams <= 0:
        raise typer.BadParameter("a load weighs more than nothing", param_hint="--load")
    return grams


def _name(out: Path) -> str:
    """The name of a shape after its file."""
    name = "".join(one if one.isalnum() and one.isascii() else "-" for one in out.stem.lower())
    return name.strip("-")[:63] or "found"


def _fail(why: str) -> None:
    print(why, file=sys.stderr)
    raise typer.Exit(exits.SCALE)
