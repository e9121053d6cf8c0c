"""Devices: what this one may, pairing it, the list, and forgetting one."""

from __future__ import annotations

import logging
from typing import Annotated, Any, Literal

from anyio import to_thread
from fastapi import APIRouter, Path, Request
from pydantic import Field, StringConstraints
from starlette.responses import JSONResponse, Response

from weighd.domain.devices import CODE_S, Device, May
from weighd.domain.errors import OperatorError
from weighd.http import shapes
from weighd.http.door import Asker, asker_of
from weighd.http.errors import Problem
from weighd.http.ports import Here, Room
from weighd.station.devices import Devices

router = APIRouter(tags=["devices"], responses={"4XX": {"model": Problem}})

Called = Annotated[str, Path(description="A device's id or name.", max_length=80)]
#: Browsers keep a cookie no longer than this (RFC 6265bis): it is given anew when a page opens.
COOKIE_S = 400 * 24 * 3600
_log = logging.getLogger("weighd.http")


class Pair(shapes.Asked):
    """The code that the station shows."""

    code: Annotated[str, StringConstraints(max_length=40)] = Field(description="Eight digits.")


class Offer(shapes.Asked):
    """A device that is to come in."""

    name: shapes.Line = Field(description="What it is called here, like tablet at the bench.")
    may: Literal["look", "work", "all"] = Field(
        default="work",
        description="look: it changes nothing; work: it weighs, and whatever the rights of people "
        "allow; all: also what else only the station's own computer may.",
    )


@router.get("/api/device")
async def this_one(room: Here, request: Request) -> Response:
    """Whether this is the station's own computer (``home``), or else which ``device`` it is; null
    where it was not let in."""
    asker = asker_of(request.scope)
    answer = JSONResponse(
        {"home": asker.home, "device": None if asker.device is None else _own(asker.device)}
    )
    token = request.cookies.get(_cookie(room, asker))
    if asker.device is not None and token:
        _give(answer, _cookie(room, asker), token, asker)
    return answer


@router.post("/api/device/pair", status_code=201)
async def pair(room: Here, request: Request, asked: Pair) -> Response:
    """Come in with the code that the station shows: sets the cookie by which it is known."""
    asker, devices = asker_of(request.scope), _devices(room)
    if asker.home:
        raise OperatorError(
            "not-here",
            "This is the station's own computer: it is in already.",
            remedy="Type the code at the device that is to come in.",
        )
    token, device = await to_thread.run_sync(devices.pair, asked.code, asker.address)
    _log.warning("device %s was paired, may %s", device.id, device.may)
    answer = JSONResponse({"device": _own(device)}, 201)
    _give(answer, _cookie(room, asker), token, asker)
    return answer


@router.post("/api/device/leave")
async def leave(room: Here, request: Request) -> Response:
    """Forget this device: it is out until it is paired anew."""
    asker = asker_of(request.scope)
    answer = JSONResponse({"home": asker.home, "device": None})
    if asker.device is not None:
        await to_thread.run_sync(_devices(room).forget, asker.device.id)
        _log.warning("device %s left", asker.device.id)
        name = _cookie(room, asker)
        answer.delete_cookie(name, secure=asker.secure, httponly=True, samesite="strict")
    return answer


@router.get("/api/devices")
async def devices(room: Here, request: Request) -> Response:
    """Every device that was paired; ``waiting`` while a code is shown, without the code. ``at`` are
    the addresses that devices open; empty where none may come in from elsewhere."""
    return JSONResponse(await to_thread.run_sync(_told, room, asker_of(request.scope)))


@router.post("/api/devices", status_code=201)
async def offer(room: Here, asked: Offer) -> Response:
    """Let one more device in: answers the code that is typed at it, once, within five minutes. Any
    code that was shown before is not good any more."""
    known = _devices(room)
    room.at_the_station("A device is let in only at the station itself.")
    if not room.settings.addresses:
        raise OperatorError(
            "no-devices",
            "This station is open to its own computer only.",
            remedy="Add the section elsewhere to weighd.toml; see the documentation.",
        )
    made = await to_thread.run_sync(known.offer, asked.name, May(asked.may))
    _log.warning("a code for a device was shown, may %s%s", made.may, room.caller.by_whom)
    return JSONResponse(
        {
            "code": made.code,
            "name": made.name,
            "may": str(made.may),
            "good_s": CODE_S,
            "at": list(room.settings.addresses),
        },
        201,
    )


@router.post("/api/devices/withdraw")
async def withdraw(room: Here) -> Response:
    """No code is good any more."""
    room.at_the_station("A device is let in only at the station itself.")
    _devices(room).withdraw()
    return JSONResponse({"waiting": None})


@router.post("/api/devices/{device}/forget")
async def forget(room: Here, request: Request, device: Called) -> Response:
    """Forget a device: it is out at once, and so is every page that is open at it."""
    room.at_the_station("A device is forgotten only at the station itself.")
    one = await to_thread.run_sync(_devices(room).forget, device)
    _log.warning("device %s was forgotten%s", one.id, room.caller.by_whom)
    return JSONResponse(await to_thread.run_sync(_told, room, asker_of(request.scope)))


def _devices(room: Room) -> Devices:
    if room.devices is None:
        raise OperatorError("no-devices", "This station lets no devices in.")
    return room.devices


def _cookie(room: Room, asker: Asker) -> str:
    return "" if room.door is None else room.door.cookie(secure=asker.secure)


def _give(answer: Response, name: str, token: str, asker: Asker) -> None:
    answer.set_cookie(
        name, token, COOKIE_S, httponly=True, samesite="strict", secure=asker.secure, path="/"
    )


def _own(one: Device) -> dict[str, str]:
    return {"id": one.id, "name": one.name, "may": str(one.may)}


def _told(room: Room, asker: Asker) -> dict[str, Any]:
    known = room.devices
    offered = None if known is None else known.offered
    here = None if asker.device is None else asker.device.id
    return {
        "at": list(room.settings.addresses),
        "plain": room.settings.plain,
        "here": asker.here,
        "devices": [
            {**_own(one), "since": one.since, "seen": one.seen, "this": one.id == here}
            for one in (() if known is None else known.all())
        ],
        "waiting": None if offered is None else {"name": offered.name, "may": str(offered.may)},
    }
