"""What answers look like, by method and path: told in the OpenAPI description, held by tests."""

from __future__ import annotations

from weighd.http.answers import batches, devices, formulas, kitchen, lots, people, station
from weighd.http.answers.notation import Answers

#: Every JSON answer of success.
ANSWERS: Answers = {
    **station.ANSWERS,
    **formulas.ANSWERS,
    **kitchen.ANSWERS,
    **batches.ANSWERS,
    **lots.ANSWERS,
    **people.ANSWERS,
    **devices.ANSWERS,
}
