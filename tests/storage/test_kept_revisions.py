"""Revisions that are kept in a folder beside the formulas: whole, never over, bounded."""

from __future__ import annotations

import json
import os
from itertools import count
from pathlib import Path

import pytest

from weighd.domain.formula_kept import Found
from weighd.storage import kept_revisions
from weighd.storage.kept_revisions import REVISIONS, KeptRevisions
from weighd.storage.shelf import FormulaShelf

ICE = """
name = "Ice"
[ingredients.water]
name = "Water"
composition = { water = 100 }
[[additions]]
ingredient = "water"
target = "%s g"
tolerance = "1 %%"
"""


class Beside:
    """A folder of formulas with what is kept beside it."""

    def __init__(self, folder: Path) -> None:
        self.folder, days = folder, count(1)
        self.kept = KeptRevisions(folder, lambda: f"2026-11-{next(days):02}T08:00:00.000Z")
        self.shelf = FormulaShelf(folder, self.kept.met)

    def write(self, grams: int | str) -> str:
        """Write the file, have it read, and say its revision."""
        (self.folder / "ice.toml").write_text(ICE % grams)
        [one], _ = self.shelf.all()
        return one.revision

    def files(self) -> list[Path]:
        return sorted((self.folder / REVISIONS / "ice").iterdir())


@pytest.fixture
def beside(tmp_path: Path) -> Beside:
    return Beside(tmp_path)


def test_every_revision_that_was_met_is_kept_once_and_never_over(beside: Beside) -> None:
    first = beside.write(100)
    before = {one: one.read_bytes() for one in beside.files()}
    second = beside.write(2000)
    assert beside.write(100) == first
    good, bad = beside.kept.of("ice")
    assert ([one.revision for one in good], list(bad)) == ([first, second], [])
    assert [one.at[:10] for one in good] == ["2026-11-01", "2026-11-02"]
    assert {one.how for one in good} == {Found.FILE}
    assert all(one.read_bytes() == text for one, text in before.items())
    assert [one.read().batch_g for one in good] == [100, 2000]
    assert good[0].read().id == "ice"
    # Nothing of it is taken for a formula.
    assert [one.id for one in beside.shelf.all()[0]] == ["ice"]


def test_who_changed_it_is_kept_where_it_was_said(beside: Beside) -> None:
    beside.write(100)
    with beside.kept.said(Found.PAGE, "Ada"):
        beside.write(101)
    beside.write(102)
    told = [(one.how, one.by) for one in beside.kept.of("ice")[0]]
    assert told == [(Found.FILE, ""), (Found.PAGE, "Ada"), (Found.FILE, "")]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"formula": "ice"}',
        "\ud800".encode("utf-8", "surrogatepass").decode("latin-1"),
        '{"formula": "ice", "revision": "0123456789ab", "how": "page", "by": 3, "content": {}}',
    ],
)
def test_a_file_that_is_none_is_told_and_left_out(beside: Beside, text: str) -> None:
    revision = beside.write(100)
    (beside.folder / REVISIONS / "ice" / "0123456789ab.json").write_text(text)
    good, bad = beside.kept.of("ice")
    assert [one.revision for one in good] == [revision]
    [wrong] = bad
    assert wrong.where == ".revisions/ice/0123456789ab.json"


def test_a_file_that_was_changed_is_not_that_revision(beside: Beside) -> None:
    beside.write(100)
    [path] = beside.files()
    given = json.loads(path.read_text())
    given["content"]["additions"][0]["target_g"] = "200"
    path.write_text(json.dumps(given))
    good, [wrong] = beside.kept.of("ice")
    assert (list(good), wrong.code) == ([], "not-that-revision")


def test_no_more_than_so_many_are_kept_and_the_newest_always(
    beside: Beside, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept_revisions, "MOST", 3)
    made = []
    for n in range(6):
        made.append(beside.write(100 + n))
        os.utime(beside.folder / REVISIONS / "ice" / f"{made[-1]}.json", (n, n))
    assert [one.revision for one in beside.kept.of("ice")[0]] == made[-3:]


def test_where_nothing_can_be_written_formulas_are_read_all_the_same(beside: Beside) -> None:
    (beside.folder / REVISIONS).write_text("in the way")
    beside.write(100)
    good, [wrong] = beside.kept.of("ice")
    assert (list(good), wrong.code, wrong.where) == ([], "cannot-keep", ".revisions/ice")
    assert [one.id for one in beside.shelf.all()[0]] == ["ice"]


@pytest.mark.parametrize("named", ["../ice", "..", "", "ice/../ice", "/etc"])
def test_an_id_never_leads_anywhere(beside: Beside, named: str) -> None:
    beside.write(100)
    assert list(beside.kept.of(named)[0]) == []
