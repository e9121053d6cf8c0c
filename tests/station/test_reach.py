"""Commands that ask a station which is not there, or is there and does not answer."""

from __future__ import annotations

import socket

import pytest
from pytest_mock import MockerFixture

from weighd.cli import reach
from weighd.cli.reach import Reached
from weighd.domain.errors import OperatorError


def test_a_station_that_does_not_answer_is_told_from_none(mocker: MockerFixture) -> None:
    mocker.patch.object(reach, "ANSWER_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as deaf:
        where = f"http://127.0.0.1:{deaf.getsockname()[1]}"
        with pytest.raises(OperatorError) as slow:
            Reached(where).get("health")
    assert (slow.value.code, slow.value.where) == ("slow-station", where)
    assert "within 0.2 s" in slow.value.message
    assert "look before you ask again" in slow.value.remedy
    with pytest.raises(OperatorError) as none:
        Reached(where).get("health")
    assert none.value.code == "no-station"
