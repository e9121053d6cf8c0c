"""What holds of every wire shape that can be written down, not only of those that scales print."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.dose import dose
from tests.drivers.any_shape import reports, shapes
from tests.drivers.test_lines_random import cuts, rubbish
from tests.drivers.test_runs import read, same
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shape_text import dump, parse
from weighd_drivers.shapes import WireShape


@st.composite
def streams(draw: st.DrawFn) -> tuple[WireShape, bytes]:
    """A shape and its reports, damaged ones and rubbish among them."""
    shape = draw(shapes())
    whole = reports(shape)
    damaged = st.tuples(whole, st.integers(0, 20), rubbish).map(
        lambda one: one[0][: one[1]] + one[2][:2] + one[0][one[1] + 1 :]
    )
    pieces = draw(st.lists(st.one_of(whole, whole, damaged, rubbish), max_size=10))
    return shape, b"".join(pieces)


@given(streams(), cuts, st.integers(1, 4), st.booleans())
@settings(max_examples=dose(100, 300), deadline=None)
def test_cut_or_whole_together_or_alone_it_says_the_same(
    given_stream: tuple[WireShape, bytes], at: list[int], times: int, joined: bool
) -> None:
    shape, stream = given_stream
    stream *= times
    whole = read(shape, stream, runs=True, joined=joined)
    same(read(shape, stream, runs=False, joined=joined), whole)
    cut = read(shape, stream, at, runs=True, joined=joined)
    assert (cut.readings, cut.rejected) == (whole.readings, whole.rejected)
    same(read(shape, stream, at, runs=False, joined=joined), cut)


@given(streams())
@settings(max_examples=dose(60, 150), deadline=None)
def test_a_reading_is_in_the_stream_and_reads_again_from_its_bytes_alone(
    given_stream: tuple[WireShape, bytes],
) -> None:
    shape, stream = given_stream
    for one in LineDecoder(shape).feed(0, stream):
        assert one.raw in stream
        assert one.grams is None or one.grams.is_finite()
        assert list(LineDecoder(shape, joined=True).feed(0, one.raw)) == [one]


@given(shapes())
@settings(max_examples=100, deadline=None)
def test_a_shape_is_written_so_that_it_reads_again(shape: WireShape) -> None:
    assert parse(dump(shape)) == shape
