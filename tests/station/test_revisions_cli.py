"""``weighd revisions``: the list, and two of them side by side. The ice is invented."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from tests.station.scripted import Hand
from weighd.storage.journal import open_journal
from weighd.storage.kept_revisions import KeptRevisions
from weighd.storage.shelf import FormulaShelf

ICE = """
name = "Ice"
[ingredients.sugar]
name = "Sugar"
composition = { sugars = { sucrose = 100 } }
[ingredients.water]
name = "Water"
composition = { water = 100 }
[[additions]]
ingredient = "sugar"
target = "100 g"
tolerance = "1 %"
[[additions]]
ingredient = "water"
target = "300 g"
tolerance = "1 %"
[[steps]]
kind = "age"
temperature = "at most 4 °C"
time = "at least 4 h"
"""
OTHER = (
    ICE.replace('"300 g"', '"400 g"')
    .replace('"1 %"\n[[additions]]', '"2 g"\n[[additions]]')
    .replace("at least 4 h", "at least 6 h")
)


@pytest.fixture
def kitchen(tmp_path: Path) -> tuple[Path, str, str]:
    """A station whose ice was made once and then changed; both revisions."""
    folder = tmp_path / "formulas"
    folder.mkdir()
    (tmp_path / "weighd.toml").write_text('[station]\nname = "test"\ndata = "data"\n')
    shelf = FormulaShelf(folder, KeptRevisions(folder, lambda: "2026-11-27T08:00:00.000Z").met)
    (folder / "ice.toml").write_text(ICE, "utf-8")
    first = shelf.get("ice")
    hand = Hand()
    hand.do("start", formula=first.content(), by="Tester")
    journal = open_journal(tmp_path / "data" / "weighd.db", "test")
    journal.append(hand.journal)
    journal.close()
    (folder / "ice.toml").write_text(OTHER, "utf-8")
    return tmp_path, first.revision, shelf.get("ice").revision


def told(folder: Path, *asked: str) -> Any:
    done = run("revisions", *asked, "--json", cwd=folder)
    assert (done.returncode, done.stderr) == (0, "")
    return json.loads(done.stdout)


def test_they_are_listed_and_compared(kitchen: tuple[Path, str, str]) -> None:
    folder, first, second = kitchen
    list_ = told(folder, "ice")
    assert [one["revision"] for one in list_["revisions"]] == [second, first]
    assert [one["batches"]["count"] for one in list_["revisions"]] == [0, 1]
    compared = told(folder, "ice", first[:5])
    # 100 g of 400 g are 25 %, of 500 g 20 %.
    assert [(one["change_g"], one["points"]) for one in compared["additions"]] == [
        ("0", "-5.000"), ("100", "5.000"),
    ]  # fmt: skip
    for_people = run("revisions", "formulas/ice.toml", first[:5], cwd=folder).stdout
    assert "Tolerance: 1 %, now 2 g" in for_people
    assert "Limits: at most 4 °C, at least 4 h, now at most 4 °C, at least 6 h" in for_people
    solids = next(line for line in for_people.splitlines() if line.startswith("Total solids"))
    assert solids.split()[-4:] == ["25.00", "20.00", "-5.00", "less"]
    listed = run("revisions", "ice", cwd=folder).stdout.splitlines()
    assert listed[2].startswith(f"now {second}") and "1 batch" in listed[3]
    assert listed[4].strip() == "test-0001"


def test_what_is_not_there_is_told(kitchen: tuple[Path, str, str]) -> None:
    folder, first, _ = kitchen
    for asked, said in (
        (["no-ice"], "No formula is called"),
        (["ice", "beef"], "No one revision"),
        (["ice", first, "--class", "soup"], "No class of product"),
    ):
        done = run("revisions", *asked, cwd=folder)
        assert (done.returncode, done.stdout) == (2, ""), asked
        assert said in done.stderr
