"""The driver to copy works: a scale that sends lines over TCP."""

from __future__ import annotations

import socket

from tests.drivers.watcher import Watcher
from weighd.station.ports import Bytes, Found, Lost
from weighd_drivers.template import DRIVER


def test_it_reads_survives_a_closed_connection_and_reads_again() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        settings = DRIVER.check({"host": "127.0.0.1", "port": port, "shape": "digits-unit"})
        with Watcher(DRIVER.source(settings)) as watcher:
            for n in range(1, 3):
                scale, _ = server.accept()
                with scale:
                    scale.sendall(b"\r\n12.5 g\r\n")
                    watcher.readings(DRIVER.decoder(settings), n)
                watcher.lost(n)
    kinds = [type(one) for one in watcher.signals if not isinstance(one, Bytes)]
    assert kinds == [Found, Lost, Found, Lost]


def test_a_scale_that_does_not_answer_is_told_once() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with Watcher(DRIVER.source(DRIVER.check({"host": "127.0.0.1", "port": port}))) as watcher:
        assert "cannot be reached" in watcher.lost()[0]
        watcher.stop.wait(1.2)
    assert len(watcher.signals) == 1
