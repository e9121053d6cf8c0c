"""The running daemon learns its scale, keeps that over a stop, shows it and forgets it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import FAST, QUICK, Cook, Served, kitchen


@pytest.fixture
def scale(tmp_path: Path) -> Iterator[PtyScale]:
    with PtyScale(tmp_path / "scale", QUICK, speed=FAST) as scale:
        yield scale


def learned(daemon: Served) -> dict[str, Any] | None:
    found: dict[str, Any] | None = daemon.state()["scales"]["bench"]["learned"]
    return found


def test_what_was_learned_outlives_a_stop_and_is_part_of_a_recording(
    tmp_path: Path, scale: PtyScale
) -> None:
    config = kitchen(tmp_path)
    with Served(config, speed=FAST) as daemon:
        first = learned(daemon)  # perhaps a moment of its empty pan already
        assert first is None or first["since"] is None
        assert "Nothing was learned" in run("scales", "--learned", "--config", config).stdout
        cook = Cook(daemon, scale)
        cook.start()
        cook.weigh_all()
        daemon.wait(lambda s: s["scales"]["bench"]["learned"]["since"])
        before = learned(daemon)
        assert before is not None
        assert daemon.stop() == 0
    said = run("scales", "--learned", "--config", config).stdout
    assert f"bench: learned since {before['since']}" in said
    assert f"follows a step in {before['response_s']} s" in said
    assert "its own flag" in said

    session = tmp_path / "session.jsonl"
    scale.bench.lift()
    with Served(config, "--record", session, speed=FAST) as daemon:
        after = learned(daemon)
        assert after is not None
        assert after["since"] == before["since"]
        assert after["looks"] >= before["looks"]
        cook = Cook(daemon, scale)
        cook.start()
        scale.bench.vessel(312.4)
        daemon.wait(lambda s: "tare" in s["live"]["can"] and s["live"]["gross_g"] == "312.4")
        cook.do("tare", addition=1)
        scale.bench.tap(500)
        cook.judged()
        cook.do("accept", addition=1)
        record = cook.record()
        assert daemon.stop() == 0
    header = json.loads(session.read_text().splitlines()[0])
    assert header["learned"]["bench"]["since"] == before["since"]
    golden = tmp_path / "golden.json"
    golden.write_text(json.dumps(record))
    replayed = run("replay", session, "--check", golden)
    assert replayed.returncode == 0, replayed.stdout

    done = run("scales", "--forget", "bench", "--config", config)
    assert (done.returncode, done.stdout) == (0, "Forgotten what was learned of bench.\n")
    again = run("scales", "--forget", "bench", "--config", config)
    assert again.returncode == 2
    assert "Nothing was learned" in again.stderr


def test_it_is_forgotten_over_rest_but_not_under_a_batch(tmp_path: Path, scale: PtyScale) -> None:
    config = kitchen(tmp_path)
    with Served(config, speed=FAST) as daemon:
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        refused = daemon.ask("POST", "/api/scales/bench/forget")
        assert (refused.status_code, refused.json()["code"]) == (409, "scale-in-use")
        cook.do("abandon", reason="a trial")
        daemon.wait(lambda s: (s["scales"]["bench"]["learned"] or {}).get("since"))
        assert daemon.ask("POST", "/api/scales/cellar/forget").status_code == 422
        running = run("scales", "--forget", "bench", "--config", config)
        assert running.returncode == 4, "a station that runs is told to forget over its page"
        assert daemon.ask("POST", "/api/scales/bench/forget").status_code == 200
        # It goes on learning, from the beginning.
        daemon.wait(lambda s: (s["scales"]["bench"]["learned"] or {"since": None})["since"] is None)
        assert "Nothing was learned" in run("scales", "--learned", "--config", config).stdout


def test_another_scale_at_the_same_name_begins_anew(tmp_path: Path, scale: PtyScale) -> None:
    config = kitchen(tmp_path)
    with Served(config, speed=FAST) as daemon:
        cook = Cook(daemon, scale)
        cook.start()
        cook.vessel()
        assert daemon.stop() == 0
    assert "bench" in run("scales", "--learned", "--config", config).stdout
    config.write_text(config.read_text().replace("[scales.bench]", "[scales.bench]\nbaud = 19200"))
    with Served(config, speed=FAST) as daemon:
        known = learned(daemon)
        assert known is None or known["since"] is None
