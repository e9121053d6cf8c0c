"""A start that takes long says so to whoever comes; one that does not answers nobody too early."""

from __future__ import annotations

import http.client
import socket
import threading
import time

import pytest

from weighd.main.waiting import Waiting


@pytest.fixture
def line() -> socket.socket:
    return socket.create_server(("127.0.0.1", 0))


def asked(line: socket.socket) -> http.client.HTTPResponse:
    client = http.client.HTTPConnection("127.0.0.1", line.getsockname()[1], timeout=5)
    client.request("GET", "/api/health")
    return client.getresponse()


def test_whoever_comes_is_told_and_may_come_again(line: socket.socket) -> None:
    with line, Waiting(line, 0.0):
        silent = socket.create_connection(line.getsockname())  # holds up nobody for long
        for _ in range(2):
            answer = asked(line)
            assert answer.status == 503
            assert answer.headers["Retry-After"] == "2"
            assert b"reads its record" in answer.read()
        silent.close()


def test_a_start_that_takes_no_time_leaves_all_to_the_station(line: socket.socket) -> None:
    with line:
        with Waiting(line, 0.2):
            client = socket.create_connection(line.getsockname())
            client.sendall(b"GET / HTTP/1.1\r\n\r\n")
        station = threading.Thread(target=lambda: line.accept()[0].sendall(b"the station"))
        station.start()
        client.settimeout(5)
        assert client.recv(64) == b"the station"
        station.join()


def test_it_ends_at_once(line: socket.socket) -> None:
    with line:
        began = time.monotonic()
        with Waiting(line, 60):
            pass
        assert time.monotonic() - began < 5
