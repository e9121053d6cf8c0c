"""Ways to put a pour right over REST: asked for, chosen, and carried through."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Any

import pytest

from tests.http.kitchen import Kitchen
from tests.station.putting_right import own_mix
from weighd.domain.formula_text import read_formula

pytestmark = pytest.mark.anyio
WAYS = "/api/batches/kitchen-0001/recovery"


@pytest.fixture
async def over() -> AsyncIterator[Kitchen]:
    """Sucrose poured in first as it should be, and then 70 g of dextrose for 60."""
    async with Kitchen() as kitchen:
        text = own_mix(("sucrose", "dextrose", "milk", "powder"))
        kitchen.shelf.formulas["test-ice"] = read_formula(text, "test-ice.toml")
        await kitchen.ready()
        await kitchen.pour("250", "580")
        assert (await kitchen.do("accept", addition=1)).status_code == 200
        await kitchen.pour("580", "650")
        assert "put right" in kitchen.station.can()
        yield kitchen


async def ways(kitchen: Kitchen, more: str = "") -> dict[str, Any]:
    answer = await kitchen.get(f"{WAYS}{more}")
    assert answer.status_code == 200, answer.json()
    found: dict[str, Any] = answer.json()
    return found


async def test_every_way_is_told_the_best_first(over: Kitchen) -> None:
    told = await ways(over)
    assert (told["cause"], told["net_g"], told["target_g"]) == ("over", "70", "60")
    assert told["dry"] == {"asks": True, "taken": None, "why": ""}
    first = told["options"][0]
    assert (first["way"], first["command"], first["asks_dry"]) == ("take out", "take out", True)
    assert first["take_g"] == {"to_target": "10", "to_limit": "9"}
    told = await ways(over, "?dry=no&bowl_holds_g=99999&on_hand=milk:5000,powder:500&at=-14")
    going = [one for one in told["options"] if one["goes"]]
    assert told["serving_c"] == "-14"
    assert "take out" not in [one["way"] for one in going]
    larger = next(one for one in going if one["way"] == "enlarge")
    assert larger["exact"]
    assert [(it["kind"], it["name"], it["grams"]) for it in larger["todo"][:2]] == [
        ("in", "Dextrose", "0.0"),
        ("more", "Milk", "260.0"),
    ]
    assert larger["change"]["way"] == "enlarge"
    assert going[-1]["command"] == "abandon"


async def test_one_is_chosen_and_the_batch_goes_on_with_new_targets(over: Kitchen) -> None:
    told = await ways(over, "?dry=no")
    change = next(one["change"] for one in told["options"] if one["way"] == "enlarge")
    answer = await over.do("put right", key="k", change=change, reason="the lid came off")
    assert answer.status_code == 200, answer.json()
    again = await over.do("put right", key="k", change=change, reason="the lid came off")
    assert again.json()["entry"] == answer.json()["entry"]
    batch = (await over.get("/api/batches/kitchen-0001")).json()["batch"]
    assert batch["put_right"][0]["way"] == "enlarge"
    assert batch["put_right"][0]["reason"] == "the lid came off"
    assert [one["target_g"] for one in batch["additions"][1:]] == [
        "70",
        "1820",
        "128.33",
        "55",
    ]
    await over.show("650")
    assert "accept" in over.station.can()
    assert (await over.do("accept", addition=2)).status_code == 200


async def test_a_wrong_ingredient_can_be_any_that_is_known(over: Kitchen) -> None:
    listed = (await over.get("/api/batches/kitchen-0001/ingredients")).json()["ingredients"]
    assert [one["ingredient"] for one in listed[:2]] == ["sucrose", "dextrose"]
    told = await ways(over, "?cause=wrong ingredient&was=powder")
    assert told["was"]["name"] == "Powder"
    assert told["was"]["of_the_formula"]
    assert told["was"]["allergens"] == ["milk"]


@pytest.mark.parametrize(
    ("asked", "code", "where"),
    [
        ("?cause=spilled", "bad-recovery", "cause"),
        ("?dry=maybe", "bad-recovery", "dry"),
        ("?bowl_holds_g=-5", "bad-recovery", "bowl_holds_g"),
        ("?bowl_holds_g=NaN", "bad-recovery", "bowl_holds_g"),
        ("?bowl_holds_g=1e9", "bad-recovery", "bowl_holds_g"),
        ("?on_hand=milk", "bad-recovery", "on_hand"),
        ("?on_hand=milk:lots", "bad-recovery", "on_hand"),
        ("?on_hand=unicorn:5", "unknown-ingredient", "on_hand"),
        ("?add=unicorn", "unknown-ingredient", "add"),
        ("?was=unicorn", "unknown-ingredient", "was"),
        ("?cause=wrong ingredient", "not-said-what", "was"),
        ("?at=warm", "bad-number", "at"),
        ("?kind=soup", "unknown-class", ""),
    ],
)
async def test_what_makes_no_sense_is_refused_by_its_field(
    over: Kitchen, asked: str, code: str, where: str
) -> None:
    answer = await over.get(f"{WAYS}{asked}")
    problem = answer.json()
    assert (answer.status_code, problem["code"], problem["where"]) == (422, code, where)


async def test_what_is_not_being_weighed_has_no_ways(over: Kitchen) -> None:
    answer = await over.get("/api/batches/kitchen-0007/recovery")
    assert (answer.status_code, answer.json()["code"]) == (409, "no-open-batch")
    assert (await over.get("/api/batches/kitchen-0007/ingredients")).status_code == 404


async def test_a_change_that_was_tampered_with_is_refused_and_nothing_happens(
    over: Kitchen,
) -> None:
    told = await ways(over, "?dry=no")
    change = next(one["change"] for one in told["options"] if one["way"] == "enlarge")
    entries = len(over.kinds())
    for wrong, code in (
        ({**change, "wholes": change["wholes"][:-1]}, "does-not-follow"),
        ({**change, "rests_on_g": "60"}, "amount-changed"),
        ({**change, "others": [{"of": 9, "ingredient": "x\n"}]}, "bad-change"),
        (
            {
                **change,
                "keeps": [{"of": ["nonsense"], "min": "1", "max": None, "source": ""}],
                "way": "smallest addition",
            },
            "does-not-follow",
        ),
        ({"way": 5}, "bad-change"),
        ({**change, "wholes": [[]]}, "bad-change"),
        ({**change, "wholes": "x" * 300}, "bad-change"),
    ):
        answer = await over.do("put right", change=wrong, reason="r")
        assert answer.json()["code"] == code, (wrong, answer.json())
    assert (await over.do("put right", reason="r")).json()["code"] == "no-change"
    assert len(over.kinds()) == entries


async def lots_in(kitchen: Kitchen, **amounts: str) -> dict[str, str]:
    """Lots booked in; their codes."""
    codes = {}
    for ingredient, grams in amounts.items():
        body = {"ingredient": ingredient, "quantity_g": grams, "by": "Ada"}
        answer = await kitchen.post("/api/lots", body)
        assert answer.status_code == 201, answer.text
        codes[ingredient] = str(answer.json()["lot"])
    return codes


async def test_lots_that_are_booked_in_say_what_there_is(over: Kitchen) -> None:
    """70 g of dextrose for 60: a larger batch takes a sixth more of the rest, 1820 g of milk."""
    codes = await lots_in(over, milk="1500", powder="5000", dextrose="65")
    told = await ways(over, "?dry=no")
    there = {one["ingredient"]: one for one in told["on_hand"]}
    assert {name: (one["grams"], one["lots"], one["by"]) for name, one in there.items()} == {
        "milk": ("1500.0", [codes["milk"]], "lots"),
        "powder": ("5000.0", [codes["powder"]], "lots"),
        # Of the 65 g that are booked in, 70 g stand in the bowl and not yet in the books.
        "dextrose": ("0.0", [codes["dextrose"]], "lots"),
    }
    larger = next(one for one in told["options"] if one["way"] == "enlarge")
    assert (larger["goes"], larger["why_not"]["code"]) == (False, "not-enough")
    assert "1500.0 g are left" in larger["why_not"]["text"]
    # What somebody says counts before the books.
    told = await ways(over, "?dry=no&on_hand=milk:5000")
    assert next(one for one in told["options"] if one["way"] == "enlarge")["goes"]
    assert next(one for one in told["on_hand"] if one["ingredient"] == "milk")["by"] == "said"
    # A lot that must not be used is none.
    answer = await over.post(
        f"/api/lots/{codes['milk']}/commands", {"do": "block", "by": "Ada", "reason": "recalled"}
    )
    assert answer.status_code == 200, answer.text
    told = await ways(over, "?dry=no")
    assert next(one for one in told["on_hand"] if one["ingredient"] == "milk")["lots"] == []
    assert not next(one for one in told["options"] if one["way"] == "enlarge")["goes"]


async def test_without_lots_nothing_is_said_of_what_there_is(over: Kitchen) -> None:
    assert (await ways(over))["on_hand"] == []
