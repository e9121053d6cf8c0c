"""A short dose of each fuzzer against one running station; ``make fuzz`` takes hours of it.

Seeded, so that what fails fails again: ``WEIGHD_FUZZ_SEED=8`` draws others.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from tests.dose import LONG, dose
from tests.fuzz.raw import Page, attacked
from tests.fuzz.world import World, examples

# Both come with the tests' packages; an older environment has to be renewed (make test).
pytest.importorskip("schemathesis")
pytest.importorskip("wsproto")

from tests.fuzz import asked, fuzz_lines, fuzz_socket, hooks

SEED = int(os.environ.get("WEIGHD_FUZZ_SEED", "1"))


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    with World(tmp_path_factory.mktemp("fuzzed")) as one:
        yield one


def test_what_the_description_says_holds_in_and_out_of_its_bounds(world: World) -> None:
    """Held to schemathesis: status, media type, shape, refusals, methods; and no 500."""
    hooks.THERE.update(examples(world))
    wrong = asked.asked(world, dose(1, 20), hooks.known, SEED)
    assert not wrong, "\n\n".join(wrong)
    assert world.sound() == []


@pytest.mark.parametrize("attacks", [fuzz_socket.ATTACKS, fuzz_lines.ATTACKS], ids=["ws", "http"])
def test_each_attack_ends_its_own_connection_and_no_other(world: World, attacks: object) -> None:
    """Frames and close codes as RFC 6455 has them, read by wsproto; heads as RFC 9112."""
    port = int(world.address.rpartition(":")[2])
    world.settle()
    with Page(port) as page:
        told = attacked(port, attacks, 60 if LONG else 0.1, SEED, at_once=4)  # type: ignore[arg-type]
    assert page.lost == 0
    assert page.frames > 3
    # Several seconds are no fault of the station where other tests keep the processors busy.
    assert page.gap_s < 20
    assert told
    assert world.sound() == []


def test_the_record_of_a_station_that_was_fuzzed_holds(world: World) -> None:
    assert world.proved().startswith(tuple("123456789"))
