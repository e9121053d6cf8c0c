"""What a user can type stands in the README: commands, keys, verdicts, exit codes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from weighd.cli import exits
from weighd.cli.app import app
from weighd.config import reference
from weighd.domain.addition import Phase
from weighd.domain.metrology import Verdict
from weighd.main.drivers import driver_points, load_driver

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def test_every_command_is_in_the_readme_and_helps() -> None:
    commands = get_command(app).commands  # type: ignore[attr-defined]
    assert len(commands) >= 10
    for name, command in commands.items():
        assert f"`weighd {name}`" in README, name
        assert command.help and len(command.help) > 40, name


@pytest.mark.parametrize("key", reference(), ids=lambda key: key.key)
def test_every_key_of_the_configuration_is_in_the_readme(key: object) -> None:
    row = f"| `{key.key}` | `{key.default}` | {key.description} |"  # type: ignore[attr-defined]
    assert row in README


def test_every_key_of_a_driver_of_real_scales_is_in_the_readme() -> None:
    from weighd_drivers.serial_settings import SerialSettings
    from weighd_drivers.usb_hid import UsbSettings

    for model in (SerialSettings, UsbSettings):
        for key in model.model_fields:
            assert f"`{key}`" in README, key


def test_every_verdict_is_explained() -> None:
    for verdict in Verdict:
        assert f"| {verdict} |" in README


def test_every_exit_code_is_in_the_readme() -> None:
    codes = [value for name, value in vars(exits).items() if name.isupper() and name != "_CODES"]
    assert sorted(codes) == list(range(6))
    told = README[README.index("Exit codes:") :][:400]
    assert all(f"{code} " in told for code in codes)


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
