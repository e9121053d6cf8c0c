"""Anything may come down the line: chunks of any size, rubbish of any kind."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drivers.line_cases import CASES, Case
from weighd.domain.reading import Reading
from weighd.station.ports import Decoder
from weighd_drivers.auto import AutoDecoder
from weighd_drivers.lines import LineDecoder

cases = st.sampled_from(CASES)
#: Bytes that decide something in some shape come often, others too.
bytewise = st.one_of(
    st.sampled_from(b"\r\n\x02\x03 +-.,0123456789STUSOLMVNGgkglboz"), st.integers(0, 255)
).map(lambda code: bytes([code]))
rubbish = st.lists(bytewise, max_size=40).map(b"".join)


@st.composite
def streams(draw: st.DrawFn) -> tuple[Case, bytes]:
    """A shape, and a stream of its reports, damaged ones and rubbish."""
    case = draw(cases)
    same = [one for one in CASES if one.value() == case.value()]
    whole = st.sampled_from(same).map(lambda one: one.report)
    damaged = st.tuples(whole, st.integers(0, 40), bytewise).map(
        lambda one: one[0][: one[1]] + one[2] + one[0][one[1] + 1 :]
    )
    pieces = draw(st.lists(st.one_of(whole, whole, damaged, rubbish), max_size=12))
    return case, b"".join(pieces)


cuts = st.lists(st.integers(0, 400), max_size=30)


def fed(decoder: Decoder, stream: bytes, at: list[int]) -> list[Reading]:
    """The readings of a stream cut at ``at``."""
    out: list[Reading] = []
    edges = sorted({0, len(stream), *(one for one in at if one < len(stream))})
    for begin, end in pairwise(edges):
        out += decoder.feed(0, stream[begin:end])
    return out


@given(streams(), cuts, st.booleans())
@settings(max_examples=400, deadline=None)
def test_any_chunks_give_the_same_readings(
    given_stream: tuple[Case, bytes], at: list[int], joined: bool
) -> None:
    case, stream = given_stream
    whole, cut = (LineDecoder(case.value(), joined=joined) for _ in range(2))
    assert fed(cut, stream, at) == fed(whole, stream, [])
    assert cut.rejected == whole.rejected


@given(streams(), cuts)
@settings(max_examples=100, deadline=None)
def test_any_chunks_give_the_same_shape(given_stream: tuple[Case, bytes], at: list[int]) -> None:
    _, stream = given_stream
    whole, cut = AutoDecoder(), AutoDecoder()
    stream *= 3
    assert fed(cut, stream, at) == fed(whole, stream, [])
    assert cut.spec == whole.spec
    assert cut.end() == whole.end()


@given(streams())
@settings(max_examples=300, deadline=None)
def test_every_reading_is_a_whole_report_of_its_shape(given_stream: tuple[Case, bytes]) -> None:
    """Its raw bytes stand in the stream, read again as themselves, and carry nothing more."""
    case, stream = given_stream
    for reading in fed(LineDecoder(case.value()), stream, []):
        assert reading.raw in stream
        (again,) = LineDecoder(case.value(), joined=True).feed(reading.t, reading.raw)
        assert again == reading


@given(cases, st.binary(max_size=2000))
@settings(max_examples=300, deadline=None)
def test_no_bytes_raise_and_memory_is_bounded(case: Case, data: bytes) -> None:
    decoder = LineDecoder(case.value())
    decoder.feed(0, data)
    assert len(decoder._rest) < 600
    assert len(decoder.last_rejected) <= 64
    decoder.end()


@given(st.lists(st.binary(max_size=200), max_size=20))
@settings(max_examples=50, deadline=None)
def test_nothing_makes_the_search_for_a_shape_raise(chunks: list[bytes]) -> None:
    decoder = AutoDecoder()
    for n, chunk in enumerate(chunks):
        decoder.feed(n, chunk)
    decoder.reset()
    decoder.end()
