"""Real daemons on one PostgreSQL: lots, blocks and formulas come down; traces, cut off or not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import httpx

from tests.forked import run
from tests.servers import Postgres
from tests.station.daemon import Served, until

FORMULA = """
name = "Plum ice"
[ingredients]
plum = { name = "Plum", allergens = ["lupin"] }
[[additions]]
ingredient = "plum"
target = "100 g"
tolerance = "5 g"
"""
LONG = 40.0


def kitchen(folder: Path, name: str, store: str, formulas: str) -> Path:
    """A station's folder; its configuration."""
    (folder / name / "formulas").mkdir(parents=True)
    larder = folder / name / "formulas" / "ingredients.toml"
    larder.write_text('[ingredients.milk]\nname = "Milk"\n')
    file = folder / name / "weighd.toml"
    file.write_text(
        f'[station]\nname = "{name}"\ndata = "data"\nformulas = "formulas"\n'
        f'[shared]\nstore = "{store}"\nformulas = "{formulas}"\n'
    )
    return file


def get(served: Served, path: str, status: int = 200) -> Any:
    found = httpx.get(f"{served.address}/api/{path}", timeout=60)
    assert found.status_code == status, found.text
    return found.json()


def post(served: Served, path: str, key: str = "", **body: Any) -> httpx.Response:
    headers = {"Idempotency-Key": key} if key else {}
    return httpx.post(f"{served.address}/api/{path}", json=body, headers=headers, timeout=60)


def lot_of(served: Served, code: str) -> dict[str, Any] | None:
    found = [one for one in get(served, "lots?gone=true")["lots"] if one["lot"] == code]
    return found[0] if found else None


def test_two_stations_share_lots_and_formulas(tmp_path: Path, postgres: Postgres) -> None:
    store = postgres.create("two-kitchens")
    cold_file = kitchen(tmp_path, "cold", store, "take")
    hot_file = kitchen(tmp_path, "hot", store, "ask")
    (cold_file.parent / "formulas" / "plum-ice.toml").write_text(FORMULA)
    assert run("share", "--set-up", store, "--config", cold_file).returncode == 0
    with Served(cold_file) as cold, Served(hot_file) as hot:
        made = post(cold, "lots", "1", ingredient="milk", quantity_g="5 kg", by="Ada")
        assert made.status_code == 201, made.text
        code = made.json()["lot"]
        assert code == "cold-R0001"
        found = until(lambda: lot_of(hot, code), LONG)
        assert (found["station"], found["left_g"], found["fit"]) == ("cold", "5000", "good")
        blocked = post(hot, f"lots/{code}/commands", "2", do="block", by="Ben", reason="a stone")
        assert blocked.status_code == 200, blocked.text
        until(lambda: (lot_of(cold, code) or {})["blocked"] == "a stone", LONG)
        told = [one["code"] for one in get(cold, "state")["state"]["station"]["notices"]]
        assert "lot-blocked-at" in told
        assert get(cold, f"lots/{code}")["history"][-1]["station"] == "hot"

        published = run("publish", "plum-ice", "--by", "Ada", "--config", cold_file)
        assert "number 1" in published.stdout, published.stderr
        again = run("publish", "plum-ice", "--by", "Ada", "--config", cold_file)
        assert "newest already" in again.stdout
        (one,) = until(lambda: get(hot, "shared/formulas")["formulas"], LONG)
        assert (one["chosen"], one["own"], one["station"], one["by"]) == (
            "new",
            "none",
            "cold",
            "Ada",
        )
        assert get(hot, "formulas")["formulas"] == []
        assert get(hot, f"formulas/{one['id']}", 409)["code"] == "formula-not-taken"
        assert post(hot, f"shared/formulas/{one['id']}", do="take", by="Ben").status_code == 200
        assert [it["id"] for it in get(hot, "formulas")["formulas"]] == [one["id"]]
        sheet = get(hot, f"formulas/{one['id']}")
        assert sheet["additions"][0]["allergens"] == ["lupin"]
        assert post(hot, f"formulas/{one['id']}/publish", by="Ben").json()["new"] is False

        traced = get(hot, f"trace/{code}")
        assert (traced["everywhere"], traced["stations"]) == (True, ["cold", "hot"])
        assert traced["known"]["station"] == "cold"
        everywhere = run("trace", code, "--database", store)
        assert "Looked at: cold, hot." in everywhere.stdout, everywhere.stderr
        assert get(hot, "lots")["shared"]["heard_at"]
        metrics = httpx.get(f"{hot.address}/metrics").text
        assert "weighd_lots_overdrawn 0.0" in metrics

        postgres.stop()
        until(lambda: get(hot, "lots")["shared"]["cut_off"], LONG)
        cut = get(hot, f"trace/{code}")
        assert (cut["everywhere"], cut["stations"], cut["unseen"]) == (False, ["hot"], ["cold"])
        assert "does not show what was done at cold" in cut["said"]
        assert get(hot, f"trace/{code}?everywhere=true", 503)["code"] == "store-away"
        assert post(hot, f"formulas/{one['id']}/publish", by="Ben").status_code == 503
    try:
        with Served(hot_file) as hot:  # started again, still cut off
            assert (lot_of(hot, code) or {})["blocked"] == "a stone"
            assert [it["id"] for it in get(hot, "formulas")["formulas"]] == [one["id"]]
    finally:
        postgres.start()
    listed = run("lots", "list", "--config", hot_file)
    assert "received at cold" in listed.stdout
    assert "BLOCKED: a stone" in listed.stdout
    assert run("verify", hot_file.parent / "data" / "weighd.db").returncode == 0
