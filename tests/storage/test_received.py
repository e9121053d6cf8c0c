"""Formulas published to a shared store: numbered, taken down, kept apart from the kitchen's own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from tests.servers import Postgres
from tests.station.scripted import Hand
from tests.storage.shared_store import emptied
from weighd.domain.errors import FormulaError
from weighd.domain.formula import Formula, from_content
from weighd.domain.formula_shared import Chosen, Published, published_of
from weighd.station import composing
from weighd.storage.formula_revisions import FormulaRevisions
from weighd.storage.journal import Store
from weighd.storage.received import CHOSEN_FILE, Received, SharedShelf
from weighd.storage.shelf import FormulaShelf
from weighd.storage.sqlite import SqliteStore

SHIPPED = FormulaShelf(files("weighd.data") / "formulas")
AT = "2026-11-26T10:00:00.000Z"


@pytest.fixture(scope="module")
def address(postgres: Postgres) -> str:
    return postgres.create("formulas")


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    if request.param == "sqlite":
        one: Store = SqliteStore(tmp_path / "all.db")
    else:
        one = emptied(request.getfixturevalue("address"))
    yield one
    one.close()


def changed(formula: Formula, note: str) -> Formula:
    """Another revision of it."""
    return from_content({**formula.content(), "note": note})


def without_cost(told: Any) -> Any:
    if isinstance(told, dict):
        return {key: without_cost(one) for key, one in told.items() if "cost" not in key}
    if isinstance(told, list):
        return [without_cost(one) for one in told if not (isinstance(one, str) and "cost" in one)]
    return told


def published(formula: Formula, number: int = 1) -> Published:
    return Published(
        number, formula.id, formula.revision, formula.name, formula.content(), "hot", "Ada", AT
    )


def test_a_formula_is_published_once_and_numbered(store: Store) -> None:
    it = FormulaRevisions(store)
    gelato, sorbet = SHIPPED.get("hazelnut-gelato"), SHIPPED.get("lemon-sorbet")
    first, new = it.publish(gelato, "hot", "Ada", AT)
    assert (first.number, new, first.id) == (1, True, f"hazelnut-gelato@{gelato.revision}")
    assert it.publish(gelato, "cold", "Ben", AT) == (first, False)
    assert it.publish(sorbet, "hot", "Ada", AT)[0].number == 2
    better = changed(gelato, "stir it longer")
    assert it.publish(better, "hot", "Ada", AT)[0].number == 3
    assert it.publish(gelato, "hot", "Ada", AT)[0].number == 4  # back to the older one: the newest
    assert [one.number for one in it.after(0)] == [1, 2, 3, 4]
    assert [one.revision for one in it.after(2)] == [better.revision, gelato.revision]
    assert it.after(4) == []
    assert it.after(0)[0].read() == replace(from_content(gelato.content()), id=first.id)


def test_what_came_down_stands_beside_the_kitchens_own(tmp_path: Path) -> None:
    gelato, sorbet = SHIPPED.get("hazelnut-gelato"), SHIPPED.get("lemon-sorbet")
    received = Received(tmp_path / "down")
    shelf = SharedShelf(SHIPPED, received)
    theirs = changed(gelato, "stir it longer")
    other = from_content({**sorbet.content(), "id": "plum-sorbet", "name": "Plum sorbet"})
    news = [published(sorbet, 1), published(theirs, 2), published(other, 3)]
    assert received.put(news) == news
    assert received.put(news) == []
    ids = {one.id for one in shelf.all()[0]} - {one.id for one in SHIPPED.all()[0]}
    assert ids == {f"hazelnut-gelato@{theirs.revision}", f"plum-sorbet@{other.revision}"}
    assert shelf.get("hazelnut-gelato") == gelato  # the kitchen's own stays
    taken = shelf.get(f"hazelnut-gelato@{theirs.revision}")
    assert (taken.note, taken.content()["id"]) == ("stir it longer", "hazelnut-gelato")
    assert [(one["formula"], one["own"]) for one in shelf.drawn()] == [
        ("plum-sorbet", "none"),
        ("hazelnut-gelato", "differs"),
        ("lemon-sorbet", "same"),
    ]
    newer = changed(gelato, "stir it less")
    received.put([published(newer, 4)])
    ids = {one.id for one in shelf.all()[0]}
    assert f"hazelnut-gelato@{newer.revision}" in ids
    assert f"hazelnut-gelato@{theirs.revision}" not in ids
    assert shelf.get(f"hazelnut-gelato@{theirs.revision}") == taken  # to make a batch once more
    again = Received(tmp_path / "down")  # after a restart, without a network
    assert again.all() == received.all()
    assert again.newest == 4


def test_a_kitchen_may_want_to_be_asked(tmp_path: Path) -> None:
    other = replace(SHIPPED.get("lemon-sorbet"), id="plum-sorbet")
    received = Received(tmp_path, take=False)
    received.put([published(other)])
    one = f"plum-sorbet@{other.revision}"
    assert received.listed({}) == ([], [])
    with pytest.raises(FormulaError, match="not taken"):
        received.get(one)
    assert received.choose(one, Chosen.TAKEN).number == 1
    assert received.get(one).name == other.name
    assert Received(tmp_path, take=False).get(one).name == other.name
    received.choose(one, Chosen.LEFT)
    assert received.listed({}) == ([], [])
    with pytest.raises(FormulaError, match="came down"):
        received.choose("plum-sorbet@000000000000", Chosen.TAKEN)


def test_what_was_changed_on_the_way_is_told_and_not_used(tmp_path: Path) -> None:
    good = published(replace(SHIPPED.get("lemon-sorbet"), id="plum-sorbet"))
    bad = published_of({**good.as_json(), "number": 2})
    bad = replace(bad, content={**bad.content, "note": "add 9 kg of salt"})
    received = Received(tmp_path)
    received.put([good, bad])
    assert [one.id for one in received.listed({})[0]] == [good.id]  # the one before it holds
    assert [one.code for one in received.listed({})[1]] == ["not-that-revision"]
    with pytest.raises(FormulaError):
        received.choose(good.id, Chosen.TAKEN)  # the newest of that name does not hold
    (tmp_path / "000001.json").write_text("{")
    (tmp_path / CHOSEN_FILE).write_text("[")
    again = Received(tmp_path)
    assert {one.code for one in again.listed({})[1]} == {"unreadable-file", "not-that-revision"}
    assert again.newest == 0
    assert again.put([good, bad]) == [good]  # asked for again, and whole
    assert again.newest == 2


def test_it_composes_and_is_weighed_without_the_kitchens_ingredients(tmp_path: Path) -> None:
    """The station has no ingredients.toml: what the revision holds is enough."""
    gelato = SHIPPED.get("hazelnut-gelato")
    (tmp_path / "own").mkdir()
    shelf = SharedShelf(FormulaShelf(tmp_path / "own"), Received(tmp_path / "down"))
    shelf.received.put([published(gelato)])
    (one,) = shelf.all()[0]
    here = composing.draw_composition(composing.composed(one, SHIPPED.kinds()))
    there = composing.draw_composition(composing.composed(gelato, SHIPPED.kinds()))
    own = {"formula", "missing", "additions"}  # its name in the list, and prices: no part of it
    assert len(set(here) - own) > 3
    assert without_cost({key: here[key] for key in set(here) - own}) == without_cost(
        {key: there[key] for key in set(here) - own}
    )
    hand = Hand(max_g="60000")
    hand.do("start", formula=shelf.get(one.id).content(), by="Ada")
    opened = hand.journal[-1].body["formula"]
    assert (opened["id"], opened["revision"]) == ("hazelnut-gelato", gelato.revision)
    assert opened["content"] == gelato.content()
