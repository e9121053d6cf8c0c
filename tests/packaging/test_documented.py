"""What contributors read of phases, drivers and help; what users read is in ``tests/docs``."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from typer.main import get_command

from weighd.cli.app import app
from weighd.domain.addition import Phase
from weighd.main.drivers import driver_points, load_driver

ROOT = Path(__file__).parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def test_every_phase_is_in_the_diagram() -> None:
    for phase in Phase:
        assert f'state "{phase}"' in DEVELOPERS


def test_ours_are_the_drivers_that_are_installed_and_they_load() -> None:
    points = driver_points()
    assert {"serial", "usb", "replay", "simulated"} <= set(points)
    for name in points:
        assert load_driver(name).name == name


def test_no_help_text_loses_what_stands_in_brackets() -> None:
    """Square brackets are marks to what prints help: a table's name has to be escaped."""

    def texts(command: Any) -> Iterator[str]:
        yield command.help or ""
        for one in command.params:
            yield getattr(one, "help", "") or ""
        for below in getattr(command, "commands", {}).values():
            yield from texts(below)

    told = list(texts(get_command(app)))
    assert len(told) > 200
    for text in told:
        assert not re.search(r"(?<!\\)\[[a-z]", text), text
