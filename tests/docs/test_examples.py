"""What the pages show is so: commands print what stands there, files can be read as they stand."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from docs.making.pages import DOCS, pages
from weighd import config
from weighd.cli.app import app
from weighd.domain.formula_text import read_formula, read_ingredients
from weighd.domain.heat_tables import read_tables
from weighd.domain.limits import read_limits
from weighd_drivers.shape_text import from_json

ROOT = Path(__file__).parents[2]
TABLES = (ROOT / "weighd" / "data" / "heat_treatments.toml").read_text("utf-8")
_FENCE = re.compile(r"^( *)```([a-z]*)\n(.*?)^\1```$", re.MULTILINE | re.DOTALL)
#: The scales that the examples are shown with.
SCALES = """
[scales.bench]
driver = "simulated"
max_g = "6000"
interval_g = "1"
[scales.fine]
driver = "simulated"
name = "fine"
max_g = "500"
interval_g = "0.01"
"""
_STUB = """
name = "n"
[ingredients.x]
name = "X"
[[additions]]
ingredient = "x"
target = "1 g"
tolerance = "0.1 g"
"""
#: Pages whose example is of goods, batches or scales that a test would have to make first.
_OF_A_KITCHEN = {
    "all-stations",
    "lots",
    "revisions",
    "scale-not-understood",
    "trace-and-recall",
    "what-came-out",
}


def blocks(language: str) -> Iterator[tuple[str, str]]:
    """Every fenced block in a language, with the page it is on."""
    for page in pages():
        for _, said, text in _FENCE.findall(page.read_text("utf-8")):
            if said == language:
                yield page.relative_to(DOCS).as_posix(), text


def shown() -> list[Any]:
    """Commands that are shown with what they print, and that need no station."""
    found = []
    for page, text in blocks(""):
        if not text.startswith("$ weighd ") or Path(page).stem in _OF_A_KITCHEN:
            continue
        command, *lines = text.rstrip("\n").split("\n")
        if not command.startswith("$ weighd loss"):
            found.append(pytest.param(command[2:], lines, id=f"{page}: {command[9:25]}"))
    return found


def test_some_are_shown() -> None:
    assert len(shown()) >= 6


def squeezed(text: str) -> str:
    return " ".join(text.split())


def in_order(lines: list[str], printed: str) -> str:
    """The first line of a page that is not printed after the one before it; empty for none.

    ``...`` stands for lines that are left out, and at a line's end for the rest of it.
    """
    rest = [squeezed(one) for one in printed.split("\n")]
    for line in lines:
        wanted = squeezed(line)
        if wanted in ("", "..."):
            continue
        start = wanted.removesuffix("...").rstrip()
        at = next(
            (
                n
                for n, one in enumerate(rest)
                if (one.startswith(start) if wanted.endswith("...") else one == wanted)
            ),
            None,
        )
        if at is None:
            return line
        del rest[: at + 1]
    return ""


@pytest.mark.parametrize(("command", "lines"), shown())
def test_a_command_prints_what_is_shown(
    command: str, lines: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(ROOT / "weighd" / "data" / "formulas", tmp_path, dirs_exist_ok=True)
    (tmp_path / "weighd.toml").write_text(SCALES, "utf-8")
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, shlex.split(command)[1:])
    assert done.exit_code == 0, done.output
    assert not in_order(lines, done.output), done.output


def test_a_line_that_is_not_printed_is_found() -> None:
    assert in_order(["a  b", "...", "c ..."], "a b\nx\nc d\n") == ""
    assert in_order(["c", "a b"], "a b\nc\n") == "a b"
    assert in_order(["a c"], "a b\n") == "a c"


def test_the_lesson_on_a_formula_says_what_the_command_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file of the lesson, told about by the command of the lesson, before and after."""
    lesson = (DOCS / "tutorial" / "own-formula.md").read_text("utf-8")
    (formula,) = [text for _, said, text in _FENCE.findall(lesson) if said == "toml"]
    told = [text for _, said, text in _FENCE.findall(lesson) if said == "text"]
    (command,) = [text for _, said, text in _FENCE.findall(lesson) if said == "sh"]
    asked = shlex.split(command)[1:]
    (tmp_path / "weighd.toml").write_text(SCALES.replace('"1"', '"0.1"').split("[scales.fine]")[0])
    (tmp_path / "formulas").mkdir()
    monkeypatch.chdir(tmp_path)
    changed = formula.replace('tolerance = "0.1 g"', 'tolerance = "0.3 g"')
    for text, lines in zip((formula, changed), told, strict=True):
        (tmp_path / "formulas" / "syrup.toml").write_text(text, "utf-8")
        done = CliRunner().invoke(app, asked)
        assert done.exit_code == 0, done.output
        assert not in_order(lines.split("\n"), done.output), done.output


def read(text: str, file: Path) -> str:
    """What a text in TOML was read as. Raises what its reader raises."""
    table = tomllib.loads(text)
    tops = {one.partition(".")[0] for one in config.tables()}
    if set(table) <= tops:
        config.parse(text, file)
        return "configuration"
    if "shape" in table:
        from_json(table)
        return "wire shape"
    if "classes" in table:
        read_limits(text, "limits.toml")
        return "limits"
    if set(table) == {"ingredients"}:
        if any("name" not in one for one in table["ingredients"].values()):
            return "part of an ingredient"
        read_ingredients(text, "ingredients.toml")
        return "ingredients"
    whole = text if "additions" in table else _STUB + text
    read_formula(whole, "example.toml", heat_tables=read_tables(TABLES, "heat_treatments.toml"))
    return "formula"


def test_every_example_of_a_file_is_one(tmp_path: Path) -> None:
    kinds: dict[str, list[str]] = {}
    for page, text in blocks("toml"):
        try:
            kinds.setdefault(read(text, tmp_path / "weighd.toml"), []).append(page)
        except Exception as error:
            raise AssertionError(f"{page}: {error}\n{text}") from error
    assert {"configuration", "formula", "ingredients", "wire shape"} <= set(kinds)
    assert len(kinds["configuration"]) >= 6


def test_every_example_in_json_is_json() -> None:
    found = 0
    for page, text in blocks("json"):
        for line in [text] if text.lstrip().startswith("{\n") else text.strip().split("\n"):
            assert json.loads(line), page
            found += 1
    assert found >= 3
