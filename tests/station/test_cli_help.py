"""What the help of every command says is what was written."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import typer

from weighd.cli.app import app


def test_no_help_text_loses_what_stands_in_brackets() -> None:
    """Square brackets are marks to what prints help: a table's name has to be escaped."""

    def texts(command: Any) -> Iterator[str]:
        yield command.help or ""
        for one in command.params:
            yield getattr(one, "help", "") or ""
        for below in getattr(command, "commands", {}).values():
            yield from texts(below)

    told = list(texts(typer.main.get_command(app)))
    assert len(told) > 200
    for text in told:
        assert not re.search(r"(?<!\\)\[[a-z]", text), text
