"""People: who works here, signing in and out, a hand lent for one act, and the list itself."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Annotated, Any, TypeVar

from anyio import to_thread
from fastapi import APIRouter, Path, Query, Request
from pydantic import Field, StringConstraints
from starlette.responses import JSONResponse, Response

from weighd.domain.errors import OperatorError
from weighd.domain.people import ABOUT, Person, Right, rights_of
from weighd.domain.whose import same_person
from weighd.http import shapes
from weighd.http.caller import Desk
from weighd.http.door import asker_of
from weighd.http.errors import Problem
from weighd.http.ports import Here, Room

router = APIRouter(tags=["people"], responses={"4XX": {"model": Problem}})

T = TypeVar("T")
Name = Annotated[str, Path(description="A person's name.", max_length=80)]
Pin = Annotated[str, StringConstraints(max_length=40)]
Rights = Annotated[list[shapes.Line], Field(max_length=40)]
_log = logging.getLogger("weighd.http")


class SignIn(shapes.Asked):
    """A name and its PIN."""

    name: shapes.Line = Field(description="A name of the list.")
    pin: Pin = Field(description="Digits.")


class Allow(SignIn):
    """A second person's name and PIN, for one act that needs a right."""

    right: shapes.Line = Field(description="The right that is needed.")


class Add(SignIn):
    """Somebody who works here from now on."""

    rights: Rights = Field(description='What they may do; ["all"] for all rights.')


class NewPin(shapes.Asked):
    """Another PIN."""

    pin: Pin = Field(description="Digits.")


class NewRights(shapes.Asked):
    """Other rights."""

    rights: Rights = Field(description="What they may do from now on, and nothing else.")


@router.get("/api/people")
async def people(
    room: Here,
    retired: Annotated[bool, Query(description="Also who was retired.")] = False,
) -> Response:
    """Who works here and what each may do, who is signed in at this page, and what rights there
    are. Where nobody is listed, everybody may do everything."""
    return JSONResponse(await _told(room, retired=retired))


@router.post("/api/sign-in")
async def sign_in(room: Here, request: Request, asked: SignIn) -> Response:
    """Sign in at this page by PIN: it stays for the configured minutes after the last act."""
    desk = _desk(room)
    person = await desk.check(request, asked.name, asked.pin)
    desk.signed.sign_out(request.cookies.get(desk.cookie, ""))  # one person at a page
    asker = asker_of(request.scope)
    token = desk.signed.sign_in(person.name, asker.device.id if asker.device else "")
    answer = JSONResponse({"me": _me(person, desk.signed.stay_s)})
    answer.set_cookie(
        desk.cookie,
        token,
        max_age=int(desk.signed.stay_s) + 24 * 3600,
        httponly=True,
        samesite="strict",
        secure=asker.secure,
    )
    return answer


@router.post("/api/sign-out")
async def sign_out(room: Here, request: Request) -> Response:
    """Sign out at this page."""
    answer = JSONResponse({"me": None})
    if room.desk is not None:
        room.desk.signed.sign_out(request.cookies.get(room.desk.cookie, ""))
        answer.delete_cookie(room.desk.cookie, httponly=True, samesite="strict")
    return answer


@router.post("/api/allow")
async def allow(room: Here, request: Request, asked: Allow) -> Response:
    """Allow somebody else one act by your PIN: send the token with it in ``Weighd-Lent``."""
    desk, [right] = _desk(room), rights_of([asked.right])
    person = await desk.check(request, asked.name, asked.pin)
    if not person.may(right):
        raise OperatorError(
            "not-allowed",
            f'{person.name} may not allow this: it needs the right "{right}".',
            where="name",
            remedy="Have somebody else allow it.",
        )
    return JSONResponse({"token": desk.signed.lend(person.name, right), "by": person.name})


@router.post("/api/people", status_code=201)
async def add(room: Here, asked: Add) -> Response:
    """Add somebody. The first person has to have all rights."""
    desk, rights = _desk(room), rights_of(asked.rights)
    room.at_the_station("The first person is added only at the station itself.")
    person = await _at(desk, lambda: desk.people.add(asked.name, rights, asked.pin))
    return await _changed(room, "added", person, 201)


@router.post("/api/people/{name}/pin")
async def new_pin(room: Here, name: Name, asked: NewPin) -> Response:
    """Give somebody another PIN. They are signed out wherever they were signed in."""
    desk = _desk(room)
    person = await _at(desk, lambda: desk.people.set_pin(name, asked.pin))
    desk.signed.forget(person.name)
    return await _changed(room, "given another PIN", person)


@router.post("/api/people/{name}/rights")
async def new_rights(room: Here, name: Name, asked: NewRights) -> Response:
    """Say what somebody may do from now on."""
    desk, rights = _desk(room), rights_of(asked.rights)
    person = await _at(desk, lambda: desk.people.set_rights(name, rights))
    return await _changed(room, "given other rights", person)


@router.post("/api/people/{name}/retire")
async def retire(room: Here, name: Name) -> Response:
    """Retire somebody: they can do nothing any more, and nobody else gets their name."""
    desk = _desk(room)
    person = await _at(desk, lambda: desk.people.retire(name))
    desk.signed.forget(person.name)
    return await _changed(room, "retired", person)


def _desk(room: Room) -> Desk:
    if room.desk is None:
        raise OperatorError(
            "no-people",
            "This station keeps no list of people.",
            remedy="Type a name where one is asked for.",
        )
    return room.desk


async def _at(desk: Desk, work: Callable[[], T]) -> T:
    """Work that takes its time, away from the loop that the scales are heard in."""
    return await to_thread.run_sync(work, limiter=desk.turn)


async def _changed(room: Room, what: str, person: Person, status: int = 200) -> Response:
    number = 1 + [one.name for one in await to_thread.run_sync(_desk(room).people.all)].index(
        person.name
    )
    _log.warning("person %s was %s%s", number, what, room.caller.by_whom)
    return JSONResponse(await _told(room), status)


async def _told(room: Room, *, retired: bool = False) -> dict[str, Any]:
    desk = room.desk
    everybody = () if desk is None else await to_thread.run_sync(desk.people.all)
    at = room.caller.device
    me = next((it for it in everybody if same_person(it.name, room.caller.signed_in)), None)
    return {
        "listed": bool(everybody),
        "people": [_drawn(one) for one in everybody if retired or one.is_here],
        "me": None if me is None or not me.is_here else _me(me, room.caller.left_s),
        "rights": [{"right": str(right), "about": about} for right, about in ABOUT.items()],
        "stay_s": 0 if desk is None else desk.signed.stay_s,
        "device": None if at is None else {"name": at.name, "may": str(at.may)},
    }


def _drawn(one: Person) -> dict[str, Any]:
    return {
        "name": one.name,
        "rights": [str(right) for right in Right if right in one.rights],
        "since": one.since,
        "retired": one.retired,
    }


def _me(one: Person, left_s: float) -> dict[str, Any]:
    return {**_drawn(one), "left_s": round(left_s)}
