"""Mixes at the edge of what can be reckoned: a price without end, no water, where pieces meet."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.domain.mixes import SALT, SUCROSE, WATER, made_of
from tests.solver.test_mixes import SOLVER, VAGUE, limit, pantry, wishes
from weighd.domain.conflict import Conflict, End, Tie, best_of, conflict
from weighd.domain.contents import row_of
from weighd.domain.limits import Limit
from weighd.domain.mix_lines import FREEZING
from weighd.domain.mix_search import Mixing, depressions, solve_mix
from weighd.domain.problem import Answer, NoSolution, Problem, Solved, Unknown, Why
from weighd.domain.wishes import Wishes, hard
from weighd.solver.highs import Highs

D = Decimal
SYRUP = pantry(WATER, SUCROSE)
COLD = limit("freezing_point", -2, -1)
EARNS = {"water": D(1), "sucrose": D(-2)}
NOTHING = Solved({"water": D(0), "sucrose": D(0)}, D(0))


def priced(asked: Wishes, **price: int) -> Answer:
    return solve_mix(SOLVER, hard(asked, {name: D(one) for name, one in price.items()}))


def test_a_price_that_falls_for_ever_is_told_whatever_the_freezing_point() -> None:
    """Nothing says how much syrup there is to be, and each gram of it earns something."""
    no_end = NoSolution(Why.UNBOUNDED)
    assert priced(wishes(SYRUP, [COLD], None), sucrose=-1) == no_end
    # where little is known of one, the freezing point has two ends
    with_paste = wishes({**SYRUP, "paste": VAGUE}, [COLD], None, paste=(1, 1))
    assert priced(with_paste, water=-1) == no_end
    found = priced(wishes(SYRUP, [COLD], 1000), sucrose=-1)
    assert isinstance(found, Solved)


@pytest.mark.parametrize("start", [0, 10, 17, 30])
def test_no_end_on_one_piece_of_the_table_is_no_end(start: int) -> None:
    """Two for a gram of sucrose, and water costs one: from 50 g in 100 g of water on, it pays for
    ever, and below that nothing is best."""
    mixing = hard(wishes(SYRUP, [limit("freezing_point", "-5.5", "-1.9")], None), EARNS)
    assert solve_mix(SOLVER, mixing, start) == NoSolution(Why.UNBOUNDED)
    thin = hard(wishes(SYRUP, [limit("freezing_point", "-3", "-1.9")], None), EARNS)
    assert solve_mix(SOLVER, thin, start) == NOTHING


def test_nothing_at_all_freezes_wherever_it_is_asked_to() -> None:
    """Where nothing is asked for and everything costs, the best mix weighs nothing; no end of
    the table is nearer to it than another."""
    found = priced(wishes(SYRUP, [COLD], None), water=1, sucrose=1)
    assert found == NOTHING


def test_what_has_no_end_has_no_best() -> None:
    """Lactose in the water of a mix: without water it grows for ever."""
    on_hand = pantry(made_of("lactose", {"lactose": 100}), WATER)
    tie = Tie("lactose_in_water", End.LEAST, ("lactose_in_water",))
    assert best_of(SOLVER, wishes(on_hand, [], 1000), tie) is None
    wet = wishes(on_hand, [], 1000, water=(100, None))
    assert best_of(SOLVER, wet, tie) == 900  # 900 g in 100 g


@pytest.mark.parametrize("off", ["-5e-7", "5e-7"])
def test_at_the_joint_of_two_pieces_each_tells_what_is_on_it(off: str) -> None:
    """A hair from 3 g of sucrose in 100 g of water, where the table has 0.18 °C: what lies so near
    is asked of both pieces, and the one that it is not on has nothing to say."""
    grams = 3 + D(off)
    percent = 100 * grams / (100 + grams)
    most = limit("sugars", None, percent) if off.startswith("-") else limit("sugars", percent)
    found = depressions(SOLVER, hard(wishes(SYRUP, [most], 1000)))
    assert found is not None
    low, high = map(float, found)
    if off.startswith("-"):
        assert low == pytest.approx(0, abs=1e-9)
        assert high == pytest.approx(0.18 * float(grams) / 3, abs=1e-9)
    else:
        # on from there by (0.35 - 0.18) / 3 °C a gram
        assert low == pytest.approx(0.18 + 0.17 * float(D(off)) / 3, abs=1e-9)
        assert high > 13
    # and so is the most of a quantity, where the freezing point is held as well
    held = wishes(SYRUP, [most, limit("freezing_point", -50, 0)], 1000)
    best = best_of(SOLVER, held, Tie("sugars", End.LEAST, ("sugars",)))
    # 180 g in 100 g of water is where the table ends, and a thousandth is kept from that
    rich = percent if off.startswith("-") else D("179.82") / D("279.82") * 100
    assert float(best or 0) == pytest.approx(float(rich), abs=1e-6)


def test_a_depression_without_an_end_is_none() -> None:
    """Of an amount that may be below nothing: then there is no telling how much of another."""
    salts = made_of("salts", {}, msnf=100, lactose=0)
    rows = {one.id: row_of(one.facts) for one in (WATER, salts, made_of("oil", fat=100))}
    for least, ends in ((None, False), (D(0), True)):
        amounts = (Unknown("water"), Unknown("salts"), Unknown("oil", least))
        found = depressions(SOLVER, hard(Wishes(rows, amounts, (), D(1000))))
        assert (found is not None) == ends


class Unsure(Highs):
    """A solver to whom no salt has a place, as it may seem where tolerances meet."""

    def solve(self, problem: Problem, /) -> Answer:
        if [name for name, one in problem.price.items() if one > 0] == ["salt"]:
            return NoSolution(Why.INFEASIBLE)
        return super().solve(problem)


def test_what_has_no_place_by_its_salt_has_none() -> None:
    rows = {one.id: row_of(one.facts) for one in (WATER, SUCROSE, SALT)}
    amounts = (Unknown("water", D(800)), Unknown("sucrose"), Unknown("salt", D(1), D(1)))
    band = Limit(("freezing_point",), D("-1.5"), D("-1"), "ours")
    mixing = Mixing(Problem(amounts, (), {"sucrose": D(1)}), rows, band)
    assert isinstance(solve_mix(SOLVER, mixing), Solved)
    assert solve_mix(Unsure(), mixing) == NoSolution(Why.INFEASIBLE)


def test_amounts_and_a_batch_alone_may_fight_and_then_nothing_nearer_is_told() -> None:
    """60 g and 60 g are not 100 g: no quantity is among what fights, so none has a best."""
    asked = wishes(SYRUP, [], 100, water=(60, None), sucrose=(60, None))
    found = conflict(SOLVER, asked)
    assert found is not None
    assert {(one.name, one.end) for one in found.ties} == {
        ("the batch", End.WHOLE),
        ("water", End.LEAST),
        ("sucrose", End.LEAST),
    }
    assert found == Conflict(found.ties)


def test_where_nothing_can_be_nothing_freezes() -> None:
    tie = Tie("freezing_point", End.LEAST, (FREEZING,))
    asked = wishes(SYRUP, [], 100, water=(60, None), sucrose=(60, None))
    assert best_of(SOLVER, asked, tie) is None
