"""Every route and websocket with every role. A new one has to be put into the table here: who may
use it is decided by a person, and not found out from what it does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.http.devices import ELSEWHERE, TOKEN, paired, some_devices
from tests.http.kitchen import Kitchen, Socket
from tests.http.test_first import set_up
from tests.station.listed_people import PINS, ListStore, Now, PlainPins, kitchen_people
from weighd.domain.people import ALL, Right
from weighd.http.live import Live
from weighd.http.rights import ROUTES
from weighd.station.people import People

pytestmark = pytest.mark.anyio

#: Whoever reaches the second door.
OPEN = {"/", "/{name}", "/assets/{rest:path}", "/api/health", "/api/device"}
#: Every device that was let in.
LOOK = {
    "/metrics", "/api/docs", "/api/docs.css", "/api/openapi.json", "/api/state", "/api/scales",
    "/api/scales/{name}/checks", "/api/scales/{name}/loss", "/api/scales/{name}/wire",
    "/api/checks/{seq}", "/api/trends", "/api/trends/{by}/{key}", "/api/vessels",
    "/api/batches", "/api/batches/{batch}", "/api/batches/{batch}/checks",
    "/api/batches/{batch}/composition", "/api/batches/{batch}/corrections",
    "/api/batches/{batch}/countersigned", "/api/batches/{batch}/dry-ice",
    "/api/batches/{batch}/ingredients", "/api/batches/{batch}/labels",
    "/api/batches/{batch}/record", "/api/batches/{batch}/recovery",
    "/api/batches/{batch}/sheet.pdf", "/api/batches/{batch}/weighings.csv",
    "/api/batches/{batch}/yield", "/api/devices", "/api/dry-ice", "/api/find",
    "/api/first/formulas", "/api/floor", "/api/formulas", "/api/formulas/{formula}",
    "/api/formulas/{formula}/changes", "/api/formulas/{formula}/composition",
    "/api/formulas/{formula}/dry-ice", "/api/formulas/{formula}/plan",
    "/api/formulas/{formula}/revisions", "/api/formulas/{formula}/revisions/{revision}/source",
    "/api/formulas/{formula}/size", "/api/formulas/{formula}/source",
    "/api/formulas/{formula}/stock", "/api/head", "/api/ingredient-table", "/api/ingredients",
    "/api/ingredients/{ingredient}", "/api/limits", "/api/lots", "/api/lots/{lot}",
    "/api/lots/{lot}/labels", "/api/made", "/api/operators", "/api/people",
    "/api/schema/record.json", "/api/shared/formulas", "/api/simulation", "/api/steps",
    "/api/trace/{lot:path}",
}  # fmt: skip
LISTENED = {"/api/live", "/api/floor/live"}
FREE, HERE = None, "at the station, or by PIN"
#: What changes something or is asked with a body: the right it needs, and whether one has to stand
#: at the station where nobody showed a PIN.
ACT: dict[tuple[str, str], tuple[Right | None, str]] = {
    ("POST", "/api/batches"): (FREE, ""),
    ("POST", "/api/batches/{batch}/commands"): (Right.DISCARD, ""),  # of this body
    ("POST", "/api/batches/{batch}/yield"): (FREE, ""),
    ("POST", "/api/lots"): (FREE, ""),
    ("POST", "/api/lots/{lot}/commands"): (Right.LOTS, ""),  # of this body
    ("PUT", "/api/formulas/{formula}"): (Right.FORMULAS, ""),
    ("DELETE", "/api/formulas/{formula}"): (Right.FORMULAS, ""),
    ("POST", "/api/formulas/{formula}/publish"): (Right.FORMULAS, ""),
    ("POST", "/api/shared/formulas/{formula}"): (Right.FORMULAS, ""),
    ("PUT", "/api/ingredients/{ingredient}"): (Right.FORMULAS, ""),
    ("DELETE", "/api/ingredients/{ingredient}"): (Right.FORMULAS, ""),
    ("POST", "/api/ingredient-import"): (Right.FORMULAS, ""),
    ("PUT", "/api/limits/{kind}"): (Right.FORMULAS, ""),
    ("POST", "/api/vessels"): (Right.SCALES, ""),
    ("POST", "/api/vessels/{name}/forget"): (Right.SCALES, ""),
    ("POST", "/api/scales/{name}/forget"): (Right.SCALES, ""),
    ("POST", "/api/scales/{name}/check"): (FREE, ""),
    ("POST", "/api/notices/{notice}/dismiss"): (FREE, ""),
    ("POST", "/api/simulation"): (FREE, ""),
    ("POST", "/api/compose"): (FREE, ""),
    ("POST", "/api/solve"): (FREE, ""),
    ("POST", "/api/paste"): (FREE, ""),
    ("POST", "/api/steps"): (FREE, ""),
    ("POST", "/api/swap"): (FREE, ""),
    ("POST", "/api/scan"): (FREE, ""),
    ("POST", "/api/ingredients/{ingredient}/check"): (FREE, ""),
    ("POST", "/api/ingredient-import/look"): (FREE, ""),
    ("POST", "/api/first/look"): (FREE, HERE),
    ("POST", "/api/first/list"): (FREE, ""),
    ("POST", "/api/first/learn"): (Right.SCALES, HERE),
    ("POST", "/api/first/scale"): (Right.SCALES, HERE),
    ("POST", "/api/first/name"): (Right.SCALES, HERE),
    ("POST", "/api/first/formula"): (Right.FORMULAS, HERE),
    ("POST", "/api/sign-in"): (FREE, ""),
    ("POST", "/api/sign-out"): (FREE, ""),
    ("POST", "/api/allow"): (FREE, ""),
    ("POST", "/api/people"): (Right.PEOPLE, HERE),
    ("POST", "/api/people/{name}/pin"): (Right.PEOPLE, ""),
    ("POST", "/api/people/{name}/rights"): (Right.PEOPLE, ""),
    ("POST", "/api/people/{name}/retire"): (Right.PEOPLE, ""),
    ("POST", "/api/devices"): (Right.PEOPLE, HERE),
    ("POST", "/api/devices/withdraw"): (Right.PEOPLE, HERE),
    ("POST", "/api/devices/{device}/forget"): (Right.PEOPLE, HERE),
}
#: What any device sends of itself, a stranger too.
OF_ITSELF = {("POST", "/api/device/pair"), ("POST", "/api/device/leave")}
#: Bodies that get past their shape, so that it is seen who is asked for.
BODIES: dict[str, dict[str, Any]] = {
    "/api/batches/{batch}/commands": {"do": "abandon", "reason": "x"},
    "/api/lots/{lot}/commands": {"do": "release"},
    "/api/first/learn": {"place": "x"},
    "/api/first/scale": {"place": "x"},
    "/api/first/name": {"name": "x"},
    "/api/first/formula": {"of": "example", "id": "none"},
    "/api/people": {"name": "Dee", "pin": "1111", "rights": ["all"]},  # too simple a PIN
    "/api/devices": {"name": "x"},
}
REFUSED = {"not-paired", "looks-only", "needs-right", "not-here"}


@dataclass(frozen=True)
class Role:
    """A device and whoever is signed in at it. ``may`` is empty for the station itself."""

    may: str
    name: str = ""
    rights: frozenset[Right] = frozenset()

    @property
    def here(self) -> bool:
        return self.may in ("", "all")

    def may_do(self, right: Right | None, where: str, *, listed: bool) -> bool:
        """By the table."""
        if self.may in ("look", "stranger"):
            return False
        if listed and right is not None and right not in self.rights:
            return False
        return where != HERE or self.here or bool(self.name)


BO = frozenset({Right.ACCEPT, Right.COUNTERSIGN})
WITHOUT = [Role("stranger"), Role("look"), Role("work"), Role("all"), Role("")]
ROLES = [
    *WITHOUT,
    *(Role(may, "Cy") for may in ("work", "all", "")),
    *(Role(may, "Bo", BO) for may in ("work", "")),
    *(Role(may, "Ada", ALL) for may in ("work", "")),
]


def everything(routes: Any) -> Iterator[tuple[str, str]]:
    """Method and path of all that can be asked; ``WS`` for a websocket."""
    for one in routes:
        if (inner := getattr(one, "original_router", None)) is not None:
            yield from everything(inner.routes)
        elif getattr(one, "methods", None):
            yield from ((method, one.path) for method in one.methods - {"HEAD"})
        else:
            yield "WS", one.path


def test_everything_that_can_be_asked_stands_in_the_table() -> None:
    kitchen = Kitchen()
    found = set(everything(kitchen.app.routes)) | {("WS", "/api/floor/live")}
    table = {("GET", path) for path in OPEN | LOOK} | {("WS", path) for path in LISTENED}
    assert found == table | set(ACT) | OF_ITSELF, (
        "decide who may, here and in weighd/http/rights.py"
    )
    assert set(ROUTES) == set(ACT) | OF_ITSELF


def filled(path: str) -> str:
    """An address of the route; what it names is nowhere."""
    return re.sub(r"\{[^}]+\}", "nowhere", path)


async def client_of(kitchen: Kitchen, role: Role, n: int) -> httpx.AsyncClient:
    if role.may == "":
        kitchen.client.cookies.clear()
    it = kitchen.client if role.may == "" else kitchen.device(address=f"192.0.2.{n}")
    if role.may not in ("", "stranger"):
        await paired_by_ada(kitchen, it, role.may, f"device {n}")
    if role.name:
        asked = {"name": role.name, "pin": PINS[role.name]}
        assert (await it.post("/api/sign-in", json=asked)).status_code == 200
    return it


async def paired_by_ada(kitchen: Kitchen, it: httpx.AsyncClient, may: str, name: str) -> None:
    if kitchen.app.state.room.desk and kitchen.app.state.room.desk.people.all():
        await kitchen.client.post("/api/sign-in", json={"name": "Ada", "pin": PINS["Ada"]})
    await paired(kitchen, it, may, name)
    kitchen.client.cookies.clear()


async def refused(it: httpx.AsyncClient, method: str, path: str) -> str:
    """The code of a refusal for who asks; empty where it went through to what it asks."""
    headers = {"Idempotency-Key": f"{method} {path}", "If-Match": '"x"'}
    body = BODIES.get(path, {})
    json = None if method in ("GET", "DELETE") else body
    answer = await it.request(method, filled(path), json=json, headers=headers)
    assert answer.status_code < 500, (method, path, answer.text)
    if not answer.headers["content-type"].startswith("application/problem"):
        return ""
    found = answer.json()["code"]
    return str(found) if found in REFUSED else ""


@pytest.mark.parametrize("listed", [True, False])
async def test_every_route_with_every_role(listed: bool, tmp_path: Path) -> None:
    people = kitchen_people() if listed else People(ListStore(), PlainPins(), Now())
    wrong = []
    async with Kitchen(people=people, devices=some_devices(), settings=ELSEWHERE) as kitchen:
        set_up(kitchen, tmp_path)
        for n, role in enumerate(ROLES if listed else WITHOUT):
            it = await client_of(kitchen, role, n)
            if n < len(WITHOUT):  # who is signed in makes no difference to looking
                for path in OPEN | LOOK:
                    due = path in OPEN or role.may != "stranger"
                    if path in ("/{name}", "/assets/{rest:path}"):
                        continue  # answered for the files there are; see test_door
                    if (await refused(it, "GET", path) == "") is not due:
                        wrong.append((role, "GET", path))
            for (method, path), (right, where) in ACT.items():
                if path == "/api/sign-out" and role.name:
                    continue  # then it would be another role
                due = role.may_do(right, where, listed=listed)
                if (await refused(it, method, path) == "") is not due:
                    wrong.append((role, method, path))
    assert wrong == []


@pytest.mark.parametrize("path", sorted(LISTENED))
async def test_every_websocket_with_every_device(path: str) -> None:
    async with Kitchen(devices=some_devices(), settings=ELSEWHERE) as kitchen:
        if path == "/api/floor/live":
            kitchen.app.add_api_websocket_route(path, Live(kitchen.picture).listen)
        for n, may in enumerate(["stranger", "look", "work", "all"]):
            it = await client_of(kitchen, Role(may), n)
            cookie = "; ".join(f"{one.name}={one.value}" for one in it.cookies.jar)
            for query in ("", "?seen"):
                at = {"host": "bench.example", "cookie": cookie}
                async with Socket(kitchen.second, f"{path}{query}", **at) as socket:
                    assert socket.accepted is (may != "stranger"), (may, path)
                    assert socket.accepted or socket.texts == []
        at = {"host": "bench.example", "authorization": f"Bearer {TOKEN}"}
        async with Socket(kitchen.second, path, **at) as socket:
            assert not socket.accepted
        async with Socket(kitchen.app, path) as socket:
            assert socket.accepted


async def test_what_a_device_sends_of_itself() -> None:
    async with Kitchen(devices=some_devices(), settings=ELSEWHERE) as kitchen:
        for n, may in enumerate(["stranger", "look", "work", "all"]):
            it = await client_of(kitchen, Role(may), n)
            answer = await it.post("/api/device/pair", json={"code": "00000000"})
            assert answer.json()["code"] == "wrong-code"
            left = await it.post("/api/device/leave")
            assert left.status_code == (401 if may == "stranger" else 200)
            assert (await it.get("/api/state")).status_code == 401


def test_the_table_is_that_of_the_rights() -> None:
    """What is written here by hand is what the one table of the edge says, body by body."""
    from weighd.http.rights import need_of

    for (method, path), (right, _) in ACT.items():
        assert need_of(method, path, BODIES.get(path, {})) is right, path
