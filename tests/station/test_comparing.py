"""A batch as weighed beside its plan: drawn, told, and on the command line."""

from __future__ import annotations

import json
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from tests.domain.test_against_plan import with_facts
from tests.forked import run
from tests.station.planned_kitchen import ICE
from tests.station.putting_right import Cook, own_mix
from tests.station.scripted import FORMULA, Hand
from tests.station.test_putting_right import too_much_sugar
from weighd.domain.against_plan import Prices, compared
from weighd.domain.as_weighed import parts_of
from weighd.domain.batch import Batch
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.facts import Facts, checked
from weighd.domain.fold import fold
from weighd.domain.formula import Ingredient
from weighd.domain.limits import read_limits
from weighd.domain.record import Entry
from weighd.domain.recovery import Trouble, Way
from weighd.domain.recovery_ways import as_it_is, enlarged
from weighd.domain.verify import export
from weighd.station.comparing import draw_weighed, weighed
from weighd.station.comparing_words import tell_weighed
from weighd.storage.journal import open_journal

KINDS = read_limits((files("weighd.data") / "limits.toml").read_text("utf-8"), "limits.toml")
PRICES = """
[ingredients.milk]
name = "Milk"
cost_per_kg = "1.20"
[ingredients.sugar]
name = "Sugar"
cost_per_kg = "1.50"
[ingredients.salt]
name = "Salt"
cost_per_kg = "0.80"
[ingredients.gum]
name = "Gum"
cost_per_kg = "21"
"""


def poured(text: str, *amounts: str) -> Hand:
    """A hand that has weighed so much of each of the first additions, one after the other."""
    hand = Hand()
    hand.start(with_facts(text))
    hand.show("600.0")
    hand.do("tare")
    stands = Decimal("600.0")
    for amount in amounts:
        stands += Decimal(amount)
        hand.pour(str(stands))
        hand.do("accept", reason="as it is")
    return hand


@pytest.fixture
def over() -> list[Entry]:
    """All of it weighed, 40 g of milk too much."""
    hand = poured(ICE, "940.0", "2.0", "3.4", "640.0")
    assert hand.kinds()[-1] == "batch closed"
    return hand.journal


def batch_of(entries: list[Entry]) -> Batch:
    found = fold(entries)
    assert found is not None
    return found


def drawn(batch: Batch | None, **options: Any) -> dict[str, Any]:
    assert batch is not None
    return draw_weighed(weighed(batch, KINDS, **options))


def test_all_that_went_in_is_drawn_beside_the_plan(over: list[Entry]) -> None:
    out = drawn(batch_of(over), kind="gelato", at_c=(Decimal(-6), Decimal(-12)))
    assert (out["status"], out["whole"], out["in_g"], out["to_come_g"]) == (
        "closed",
        True,
        "1585.40",
        "0.00",
    )
    rows = {(one["of"], one.get("at_c")): one for one in out["differences"]}
    # 900 and 940 g of milk at 3.5 % in 1545.4 and 1585.4 g: arithmetic.
    assert rows["fat", None]["planned"] == {"value": "2.038"}
    assert rows["fat", None]["weighed"] == {"value": "2.075"}
    assert rows["fat", None]["change"] == {"value": "0.037"}
    assert rows["fat", None]["told"] == "more"
    assert rows["mass", None]["change"] == {"value": "40.00"}
    assert {one.get("at_c") for one in out["differences"]} == {None, "-6", "-12"}
    assert all(one["planned"]["standing"] for one in out["limits"])
    assert out["prices"] == {"known": False, "date": ""}
    assert "cost" not in {one["of"] for one in out["differences"]}
    assert json.loads(json.dumps(out)) == out


def test_what_is_still_to_come_is_counted_as_planned() -> None:
    out = drawn(poured(ICE, "905.0").station.batch)
    assert (out["whole"], out["in_g"], out["to_come_g"]) == (False, "905.00", "645.40")
    assert "645.4 g are still to come as planned" in tell_weighed(out)[0]


def test_of_an_abandoned_batch_counts_what_is_in() -> None:
    hand = poured(ICE, "905.0")
    hand.do("abandon", reason="dropped")
    out = drawn(hand.station.batch)
    assert (out["status"], out["whole"], out["to_come_g"]) == ("abandoned", False, "0.00")
    assert "abandoned; 905.0 g are in" in tell_weighed(out)[0]
    nothing = poured(ICE)
    nothing.do("abandon", reason="no time")
    with pytest.raises(OperatorError, match="Nothing was weighed") as caught:
        drawn(nothing.station.batch)
    assert caught.value.code == "nothing-weighed"


def test_people_are_told_what_differs_and_what_does_not(over: list[Entry]) -> None:
    prices = Prices({"milk": Decimal("1.2"), "sugar": Decimal("1.5")}, "2026-11-20")
    out = drawn(batch_of(over), kind="gelato", prices=prices)
    lines = tell_weighed(out)
    text = "\n".join(lines)
    assert lines[0].endswith("all is in, 1585.4 g.")
    [point] = [one for one in lines if one.startswith("Begins to freeze")]
    assert point.endswith("higher")
    assert "Cost is by today's prices of the ingredients, as they stand since 2026-11-20" in text
    # What has no price is in as planned, so that the sum can be told; by the kilogram it cannot.
    assert [one.split()[-1] for one in lines if one.startswith("Cost of")] == ["more", "told"]
    assert "Outside; gelato: fat" in text
    exact = "\n".join(tell_weighed(drawn(poured(ICE, "900.0").station.batch)))
    assert exact.count("no difference") >= 8
    assert "No cost: a record keeps no prices" in exact


def test_where_no_facts_are_kept_it_says_so() -> None:
    hand = Hand()
    hand.start(FORMULA)
    text = "\n".join(tell_weighed(drawn(hand.station.batch)))
    assert "Missing, so that not all can be told:" in text
    assert "Milk: composition" in text


def test_a_record_whose_formula_is_spoilt_is_refused(over: list[Entry]) -> None:
    batch = batch_of(over)
    spoilt = Batch(**{name: getattr(batch, name) for name in batch.__slots__} | {"formula": {}})
    with pytest.raises(RecordError, match="cannot be read") as caught:
        drawn(spoilt)
    assert caught.value.code == "no-formula-kept"


def test_a_batch_that_was_enlarged_is_as_planned_but_larger() -> None:
    """Our own mix with 352 g of sucrose for 330 (frozen.json, overpour_exact_rescale): 2560 g."""
    cook = too_much_sugar()
    cook.choose(enlarged(cook.trouble(Trouble.OVER)), "poured from the sack")
    cook.settle()
    parts = parts_of(cook.state)  # the sucrose that is in the bowl is not accepted yet
    assert sum(one.mass_g for one in parts) == pytest.approx(Decimal(2560), abs=Decimal("0.2"))
    assert sum(one.planned_g for one in parts) == 2400
    cook.finish()
    it = compared(parts_of(cook.state))
    for one in it.differences:
        assert one.change is not None
        # What tolerances leave: salt within 0.35 g of 2.1 g, which moves the freezing by 0.014 °C.
        least = Decimal("0.03") if one.of != "frozen" else Decimal("0.3")
        assert one.of == "mass" or abs(one.change.low) < least, one.of
    mass = it.of("mass").change
    assert mass is not None
    assert mass.low == pytest.approx(Decimal(160), abs=Decimal("0.5"))


def test_a_wrong_ingredient_that_was_kept_counts_as_what_it_is() -> None:
    """60 g of cocoa in for the dextrose, which follows: fat is that of milk, cream and cocoa."""
    facts = checked(Facts((("fat", Decimal(22)), ("other_solids", Decimal(78))), ()))
    cocoa = Ingredient("cocoa", "Cocoa", ("may hold nuts",), "", facts)
    cook = Cook()
    cook.begin(own_mix())
    cook.weigh(until="dextrose")
    cook.add("60")
    cook.choose(as_it_is(cook.trouble(Trouble.WRONG, cocoa), Way.KEEP), "wrong tin")
    cook.settle()
    cook.do("accept")
    cook.finish()
    parts = parts_of(cook.state)
    [extra] = [one for one in parts if one.ingredient.id == "cocoa"]
    assert (extra.planned_g, extra.in_g, extra.ingredient.facts) == (0, 60, facts)
    fat = compared(parts).of("fat")
    assert fat.weighed is not None
    milk, cream = Decimal(1560) * Decimal("0.0325"), Decimal(120) * Decimal("0.35")
    due = (milk + cream + Decimal("13.2")) / 2460 * 100
    assert fat.weighed.low == pytest.approx(due, abs=Decimal("0.002"))
    out = drawn(cook.state)
    assert out["amounts"][-1]["name"] == "Cocoa"
    assert out["missing"] == {}


# --- the command ------------------------------------------------------------------------------


@pytest.fixture
def kept(tmp_path: Path, over: list[Entry]) -> Path:
    """An export, and the same batch in the database of a configured station."""
    (tmp_path / "batch.json").write_text(json.dumps(export("test", "test-0001", over)))
    (tmp_path / "formulas").mkdir()
    (tmp_path / "formulas" / "ingredients.toml").write_text(PRICES)
    (tmp_path / "weighd.toml").write_text('[station]\nname = "test"\n')
    (tmp_path / "weighd-data").mkdir()
    journal = open_journal(tmp_path / "weighd-data" / "weighd.db", "test")
    journal.append(over)
    journal.close()
    return tmp_path


def test_compose_takes_an_export(kept: Path) -> None:
    done = run("compose", kept / "batch.json", "--at", "-8")
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    assert out["batch"] == "test-0001"
    assert out["prices"]["known"] is False
    assert [one["at_c"] for one in out["differences"] if one["of"] == "frozen"] == ["-8"]
    priced = run(
        "compose",
        kept / "batch.json",
        "--text",
        "--prices",
        kept / "formulas" / "ingredients.toml",
    )
    assert "Cost of all of it" in priced.stdout


def test_compose_takes_a_batch_of_the_station(kept: Path) -> None:
    done = run("compose", "--batch", "test-0001", "--config", kept / "weighd.toml")
    assert (done.returncode, done.stderr) == (0, "")
    out = json.loads(done.stdout)
    assert out["prices"]["known"] is True
    cost = next(one for one in out["differences"] if one["of"] == "cost")
    # 0.94 kg at 1.20, 2 g at 0.80, 3.4 g at 21, 0.64 kg at 1.50: arithmetic.
    assert cost["weighed"] == {"value": "2.161"}
    alone = run("compose", "--batch", "test-0001", "--database", kept / "weighd-data" / "weighd.db")
    assert json.loads(alone.stdout)["prices"]["known"] is False


@pytest.mark.parametrize(
    ("given", "code", "says"),
    [
        ((), 2, "Name one"),
        (("batch.json", "--batch", "test-0001"), 2, "Name one"),
        (("batch.json", "--yield-g", "500"), 2, "A batch has its size"),
        (("--batch", "test-0009", "--config", "weighd.toml"), 1, "There is no batch test-0009"),
        (("batch.json", "--at", "NaN"), 2, "is not a temperature"),
        (("batch.json", "--class", "attic"), 2, 'No class of product is called "attic"'),
        (("broken.json",), 1, "This is not JSON"),
        (("other.json",), 1, "not an as-weighed record"),
        (("spoilt.json",), 1, "Entry 1 (batch opened) is not what such an entry should be"),
        (("batch.json", "--prices", "batch.json"), 2, "not readable TOML"),
    ],
)
def test_what_cannot_be_composed(kept: Path, given: tuple[str, ...], code: int, says: str) -> None:
    (kept / "broken.json").write_text('{"weighd_record": 1, ')
    (kept / "other.json").write_text("{}")
    spoilt = json.loads((kept / "batch.json").read_text())
    spoilt["entries"][0]["body"]["scales"] = 7
    (kept / "spoilt.json").write_text(json.dumps(spoilt))
    placed = [kept / one if one.endswith((".json", ".toml")) else one for one in given]
    done = run("compose", *placed)
    assert done.returncode == code, done.stderr
    assert done.stderr.startswith("weighd: ")
    assert says in done.stderr
