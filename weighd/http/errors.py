"""From errors to HTTP: the one table, and problem details (RFC 9457) made by it.

A code that stands in no table here (a driver's, a store's) gets the status of its class: whose
fault it is decides. ``type`` is ``about:blank``, so ``title`` is the status phrase (RFC 9457,
4.2.1); ``code`` is what programs match on.
"""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse

from weighd.domain.errors import (
    ConfigError,
    FormulaError,
    JournalError,
    OperatorError,
    RecordError,
    ScaleError,
    SessionError,
    SolverError,
    WeighdError,
)
from weighd.http import door
from weighd.http.allowed import allowed
from weighd.http.caller import NeedsRightError
from weighd.http.problems import Problem, problem, sayable
from weighd.station.devices import MustWaitForCodeError
from weighd.station.people import MustWaitError

__all__ = ["OF_CLASS", "OF_CODE", "Problem", "answer_errors", "problem", "problem_of", "status_of"]

OF_CLASS: Mapping[type[WeighdError], int] = {
    OperatorError: 409,
    FormulaError: 422,
    SessionError: 422,
    ScaleError: 503,
    JournalError: 503,
    RecordError: 500,
    ConfigError: 500,
    SolverError: 500,
}

OF_CODE: Mapping[str, int] = {
    # how it was asked
    "bad-json": 400,
    "bad-key": 400,
    "keys-differ": 400,
    "no-key": 400,
    "foreign-origin": 403,
    "slow-body": 408,
    "body-too-large": 413,
    "not-json": 415,
    "unknown-host": 421,
    **door.STATUS,
    # who may do it
    "wrong-pin": 401,
    "needs-right": 403,
    "no-people": 404,
    "not-allowed": 403,
    "other-name": 409,
    "unknown-person": 409,
    "person-exists": 409,
    "person-retired": 409,
    "first-needs-all": 409,
    "last-keeper": 409,
    "too-many-people": 409,
    "bad-name": 422,
    "bad-pin": 422,
    "unknown-right": 422,
    "wait-for-pin": 429,
    "key-reused": 422,
    "invalid-request": 422,
    # what was asked for is not there
    "not-found": 404,
    "none-weighed": 404,
    "no-floor": 404,
    "no-ingredient": 404,
    "no-pantry": 404,
    "no-simulation": 404,
    "unknown-batch": 404,
    "put-away": 410,
    "entry-emptied": 500,
    "misread": 422,
    "unknown-lot": 404,
    "unknown-draw": 404,
    "unknown-check": 404,
    "unknown-formula": 404,
    "unknown-revision": 404,
    "unknown-notice": 404,
    "method-not-allowed": 405,
    # what was asked for makes no sense, whatever the state
    "bad-amount": 422,
    "bad-ingredients": 422,
    "bad-aim": 422,
    "bad-limits": 422,
    "bad-list": 422,
    "bad-size": 422,
    "bad-ratio": 422,
    "bad-swap": 422,
    "same-ingredient": 422,
    "bad-target": 422,
    "unknown-quantity": 422,
    "no-ingredients": 422,
    "no-mix": 422,
    "bad-substitute": 422,
    "circular-substitutes": 422,
    "facts-missing": 422,
    "needs-overrun": 422,
    "bad-number": 422,
    "bad-draw": 422,
    "bad-labels": 422,
    "label-too-small": 422,
    "bad-lot": 422,
    "nothing-entered": 422,
    "unknown-class": 422,
    "unknown-grouping": 422,
    "bad-batch-size": 422,
    "bad-vessel": 422,
    "beyond-method": 422,
    "bad-text": 422,
    "no-formula": 422,
    "no-lot": 422,
    "no-operator": 422,
    "no-room": 422,
    "not-enough-known": 422,
    "unknown-command": 422,
    "unknown-material": 422,
    "unknown-scale": 422,
    "bad-time": 422,
    "bad-value": 422,
    "no-note": 422,
    "no-step": 422,
    "unknown-caution": 422,
    "unknown-pair": 422,
    # what was asked for cannot be made
    "cannot-typeset": 500,
    # the state does not allow it
    "batch-over": 409,
    "lot-blocked": 409,
    "lot-exists": 409,
    "lot-expired": 409,
    "lot-used-up": 409,
    "not-made": 409,
    "other-ingredient": 409,
    "past-best-before": 409,
    "same-lot": 409,
    "cautions-not-confirmed": 409,
    "clock-behind": 409,
    "heat-treatment-open": 409,
    "needs-temperature": 409,
    "not-this-step": 409,
    "step-over": 409,
    "already-accepted": 409,
    "already-tared": 409,
    "changed-meanwhile": 409,
    "nothing-changed": 409,
    "too-many-corrections": 409,
    "not-over": 409,
    "own-batch": 409,
    "countersigned-already": 409,
    "unknown-entry": 404,
    "not-correctable": 422,
    "needs-old": 422,
    "bad-correction": 422,
    "batch-open": 409,
    "set-up-already": 409,
    "unknown-place": 409,
    "no-first-start": 404,
    "not-here": 403,
    "no-such-scale": 422,
    "nothing-in-it": 422,
    "cannot-read": 503,
    "still-weighed": 409,
    "more-than-the-whole": 409,
    "bowl-still-on": 409,
    "needs-reason": 409,
    "same-scale": 409,
    "some-is-in": 409,
    "not-all-in": 409,
    "no-open-batch": 409,
    "no-scale": 409,
    "no-vessel": 409,
    "not-current": 409,
    "not-now": 409,
    "not-settled": 409,
    "nothing-poured": 409,
    "nothing-weighed": 409,
    "batch-abandoned": 409,
    "too-many-draws": 409,
    "over-capacity": 409,
    "scale-in-use": 409,
    "no-check": 409,
    "scale-being-checked": 409,
    "scale-not-checked": 409,
    "scale-not-heard": 409,
    "less-than-vessel": 409,
    "other-than-vessel": 409,
    "counts-as-added": 409,
    "empty-not-seen": 409,
    "other-vessel": 409,
    "too-many-vessels": 409,
    "vessel-configured": 409,
    "not-enough": 409,
    "same-vessel": 409,
    "zero-is-off": 409,
    "vessel-holds-some": 409,
    "zero-unknown": 409,
    # a pour that went wrong, put right
    "bad-change": 422,
    "bad-recovery": 422,
    "no-change": 422,
    "not-said-what": 422,
    "amount-changed": 409,
    "not-as-before": 409,
    "nothing-to-come": 409,
    "nothing-wrong": 409,
    "weighed-in-parts": 409,
    # formula files
    "bad-field": 422,
    "bad-file-name": 422,
    "bad-formula-content": 422,
    "bad-tolerance": 422,
    "bad-method": 422,
    "bad-step-limit": 422,
    "unknown-heat-table": 422,
    "unknown-step-kind": 422,
    "bad-heat-tables": 500,
    "unknown-vessel": 422,
    "empty-formula": 422,
    "missing-field": 422,
    "not-toml": 422,
    "unknown-field": 422,
    "unknown-carrier": 422,
    "unknown-ingredient": 422,
    # files of the kitchen, changed
    "bad-id": 422,
    "cannot-edit": 409,
    "formula-not-taken": 409,
    "no-shared-store": 409,
    "not-shared": 409,
    "not-that-revision": 422,
    "cannot-write": 503,
    "changed-since": 412,
    "exists-already": 412,
    "file-would-be-too-large": 409,
    "formula-would-break": 409,
    "formulas-fixed": 403,
    "ingredient-in-use": 409,
    "no-tag": 428,
    # sessions
    "bad-session-header": 422,
    "bad-session-line": 422,
    "cannot-record": 422,
    "does-not-follow": 422,
    "empty-session": 422,
    "not-a-session": 422,
    "unreadable-session": 422,
    # the record does not hold
    "after-the-end": 500,
    "batch-chain-broken": 500,
    "chain-broken": 500,
    "column-differs": 500,
    "list-differs": 500,
    "not-a-database": 500,
    "check-missing": 500,
    "closed-early": 500,
    "empty-record": 500,
    "entry-missing": 500,
    "evidence-differs": 500,
    "hash-mismatch": 500,
    "bad-signature": 500,
    "cut-short": 500,
    "not-a-head": 500,
    "not-in-journal": 500,
    "not-signed": 500,
    "rewritten": 500,
    "sealed-anew": 500,
    "unreadable-signature": 500,
    "wrong-key": 500,
    "no-formula-kept": 500,
    "not-a-batch": 500,
    "not-a-check": 500,
    "not-a-record": 500,
    "not-canonical": 500,
    "not-this-batch": 500,
    "other-batch": 500,
    "other-station": 500,
    "out-of-order": 500,
    "out-of-place": 500,
    "too-little-evidence": 500,
    "unreadable-entry": 500,
    # the station cannot
    "internal": 500,
    "no-answer": 503,
    "no-solver": 503,
    "solver-too-long": 503,
    "stopping": 503,
}

#: Errors of a request that are told at once; the rest follows when these are mended.
_MOST_TOLD = 10


def status_of(error: WeighdError) -> int:
    """The HTTP status of an error."""
    if error.code in OF_CODE:
        return OF_CODE[error.code]
    return next(status for kind, status in OF_CLASS.items() if isinstance(error, kind))


def problem_of(error: WeighdError) -> JSONResponse:
    """The problem that an error is."""
    headers: dict[str, str] = {}
    more: dict[str, Any] = {}
    if isinstance(error, MustWaitError | MustWaitForCodeError):
        headers["Retry-After"] = str(error.wait_s)
        more["wait_s"] = error.wait_s
    elif isinstance(error, NeedsRightError):
        more = {"right": str(error.right), "who_may": error.who_may}
    return problem(
        status_of(error),
        error.code,
        error.message,
        remedy=error.remedy,
        where=error.where,
        headers=headers,
        more=more,
    )


def answer_errors(app: FastAPI) -> None:
    """Have every error of the application answered as a problem."""
    app.add_exception_handler(WeighdError, _of_the_station)
    app.add_exception_handler(RequestValidationError, _of_the_request)
    app.add_exception_handler(HTTPException, _of_the_framework)


async def _of_the_station(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, WeighdError)
    return problem_of(error)


async def _of_the_request(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, RequestValidationError)
    found = error.errors()[:_MOST_TOLD]
    if any(one["type"] == "json_invalid" for one in found):
        return _bad_json()
    told = [
        {"where": sayable(".".join(map(str, one["loc"]))[:200]), "message": _said(one["msg"])}
        for one in found
    ]
    first = told[0] if told else {"where": "", "message": "It is not as it should be."}
    return problem(
        OF_CODE["invalid-request"],
        "invalid-request",
        first["message"],
        where=first["where"],
        errors=told,
    )


async def _of_the_framework(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    match error.status_code:
        case 404:
            return problem(404, "not-found", "There is nothing at this address.")
        case 405:
            return problem(
                405,
                "method-not-allowed",
                f"{request.method} is not possible at this address.",
                headers={"Allow": ", ".join(allowed(request))},
            )
        case 400:
            return _bad_json()
        case status:
            return problem(status, f"status-{status}", HTTPStatus(status).phrase + ".")


def _bad_json() -> JSONResponse:
    return problem(
        OF_CODE["bad-json"], "bad-json", "The body is not JSON.", remedy="Send a JSON object."
    )


def _said(message: object) -> str:
    text = str(message).removeprefix("Value error, ")[:300]
    return sayable(text if text.endswith(".") else f"{text}.")
