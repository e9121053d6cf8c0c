"""The running daemon and a scale whose zero moves with the load on it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import FAST, QUICK, Cook, Served, kitchen
from weighd.domain.record import Tail, seal


@pytest.fixture
def cook(tmp_path: Path) -> Iterator[Cook]:
    """A cook in a kitchen of their own, with the vessel tared."""
    with (
        PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale,
        Served(kitchen(tmp_path), speed=FAST) as daemon,
    ):
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        yield cook


@pytest.fixture
def daemon(cook: Cook) -> Served:
    return cook.daemon


@pytest.fixture
def scale(cook: Cook) -> PtyScale:
    return cook.scale


def test_the_scales_own_key_in_mid_addition_loses_nothing(
    cook: Cook, daemon: Served, scale: PtyScale, tmp_path: Path
) -> None:
    cook.fill(1, short_g="300")
    cook.judged("short")
    scale.bench.zero()
    seen = daemon.wait(lambda s: s["live"]["zero"])["live"]
    assert (seen["zero"]["cause"], seen["phase"]) == ("tare key", "settling")
    seen = cook.judged("short")["live"]
    assert (seen["net_g"], seen["gross_g"]) == ("200.0", "0.0")
    cook.weigh(1)
    cook.weigh(2)
    record = cook.record()
    kinds = [one["kind"] for one in record["entries"][2:]]
    assert kinds == ["zero moved", "addition accepted", "addition accepted"]
    moved, accepted, after = (one["body"] for one in record["entries"][2:])
    assert (moved["sum_g"], moved["shift_g"], moved["by"]) == ("200.0", "-512.4", "")
    assert (accepted["net_g"], accepted["zero_moves"]) == ("500.0", [moved["n"]])
    assert after["net_g"] == "120.0"
    _holds_but_not_when_changed(record, "shift_g", tmp_path)


def test_a_scale_that_switched_itself_off_is_asked_about(
    cook: Cook, daemon: Served, scale: PtyScale, tmp_path: Path
) -> None:
    cook.fill(1, short_g="300")
    cook.judged("short")
    scale.silent()
    daemon.wait(lambda s: (s["live"]["held"] or {}).get("cause") == "scale silent")
    scale.bench.zero()
    scale.silent(quiet=False)
    seen = daemon.wait(lambda s: (s["live"]["held"] or {}).get("cause") == "scale at zero")["live"]
    assert (seen["held"]["sum_g"], seen["net_g"]) == ("200.0", None)
    assert cook.refused("accept", addition=1) in {"not-now", "not-settled"}
    daemon.kill()  # and what is known of the time before does not depend on this one
    daemon.begin()
    daemon.wait(lambda s: s["scales"]["bench"]["link"] == "live")
    cook.can("resume")
    cook.do("resume", addition=1, by="Second Tester")
    cook.weigh(1)
    record = cook.record()
    moved = next(one["body"] for one in record["entries"] if one["kind"] == "zero moved")
    assert (moved["cause"], moved["by"]) == ("scale at zero", "Second Tester")
    assert (moved["before_g"], moved["sum_g"]) == ("512.4", "200.0")
    assert record["entries"][-1]["body"]["net_g"] == "500.0"
    _holds_but_not_when_changed(record, "before_g", tmp_path)


def _holds_but_not_when_changed(record: Mapping[str, Any], key: str, folder: Path) -> None:
    """``weighd verify`` holds the record, and not one whose moved zero was changed."""
    export = folder / "record.json"
    export.write_text(json.dumps(record))
    assert run("verify", export).returncode == 0
    changed = json.loads(export.read_text())
    n = next(n for n, one in enumerate(changed["entries"]) if one["kind"] == "zero moved")
    tail, rows = Tail(), changed["entries"]
    rows[n]["body"][key] = "-511.0"
    for one in rows:  # by somebody who can compute hashes too
        body = {**one["body"], "after": tail.hash}
        sealed = seal(one["station"], one["kind"], one["at"], body, tail)
        tail = Tail(sealed.seq, sealed.hash)
        one.update(sealed.as_json())
    export.write_text(json.dumps(changed))
    done = run("verify", export)
    assert done.returncode == 1
    assert f"entry {n + 1} (zero moved)" in done.stderr
    assert key in done.stderr
