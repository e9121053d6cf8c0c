"""Coverage-guided fuzzing of everything that reads a scale's bytes or a shape's text.

    pip install atheris                       # Linux on x86 only, so no test needs it
    python tests/fuzz/fuzz_wire.py -max_total_time=3600 FOLDER

``FOLDER`` keeps what was found interesting; it is begun with the generated prints. A crash is
written to ``crash-...`` and read again by naming that file. What must hold, whatever comes:

1. Nothing is raised but :class:`ScaleError`, and that only by the text of a shape.
2. Two ways of cutting a stream into chunks give the same readings, count and shape.
3. A reading's bytes are in the stream and read again to the same grams; a number is finite.
4. What a decoder keeps is bounded.
"""

from __future__ import annotations

import sys
from pathlib import Path

import atheris

_ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(_ROOT), str(_ROOT / "drivers")]

with atheris.instrument_imports(include=["weighd_drivers"]):
    from weighd_drivers.auto import AutoDecoder, redecoder_for
    from weighd_drivers.finder import find
    from weighd_drivers.lines import LineDecoder
    from weighd_drivers.shape_text import dump, parse, shipped

from tests.drivers.wire_world import PRINTS, scenario  # noqa: E402
from weighd.domain.errors import ScaleError  # noqa: E402
from weighd.domain.reading import Reading  # noqa: E402
from weighd.station.ports import Decoder  # noqa: E402


def _shapes() -> list[object]:
    found = [
        find(b"".join(one.report(load) for load in scenario(one)), one.implied).shape
        for one in PRINTS
    ]
    return [*shipped().values(), *(one for one in found if one is not None)]


SHAPES = _shapes()


def _fed(decoder: Decoder, stream: bytes, size: int) -> list[Reading]:
    out: list[Reading] = []
    for at in range(0, len(stream), size):
        out += decoder.feed(0.0, stream[at : at + size])
    return out


def _lines(pick: int, size: int, stream: bytes) -> None:
    shape = SHAPES[pick % len(SHAPES)]
    whole, cut = LineDecoder(shape), LineDecoder(shape)
    readings = _fed(whole, stream, len(stream) or 1)
    assert readings == _fed(cut, stream, size)
    assert whole.rejected == cut.rejected
    assert len(cut._rest) < 1024
    for one in readings:
        assert one.raw in stream
        assert one.grams is None or one.grams.is_finite()
        (again,) = redecoder_for(whole.spec).feed(0.0, one.raw)
        assert again.grams == one.grams
    whole.reset()
    whole.feed(0.0, stream)
    whole.end()


def _auto(size: int, stream: bytes) -> None:
    whole, cut = AutoDecoder(), AutoDecoder()
    stream = stream * 4
    assert _fed(whole, stream, len(stream) or 1) == _fed(cut, stream, size)
    assert whole.spec == cut.spec
    assert list(whole.end()) == list(cut.end())


def _find(stream: bytes) -> None:
    finding = find(stream * 6)
    if finding.shape is not None:
        assert parse(dump(finding.shape)) == finding.shape
        assert finding.read >= finding.rejected


def _text(data: bytes) -> None:
    try:
        shape = parse(data.decode("utf-8", "replace"))
    except ScaleError:
        return
    assert parse(dump(shape)) == shape
    LineDecoder(shape).feed(0.0, data)


def one_input(data: bytes) -> None:
    """One input: what to try, a choice of shape, a chunk size, and the bytes."""
    if len(data) < 4:
        return
    what, pick, size, stream = data[0] % 16, data[1], data[2] % 23 + 1, data[3:2000]
    if what < 10:
        _lines(pick, size, stream)
    elif what == 10:
        _auto(size + 8, stream[:150])
    elif what < 14:
        _find(stream[:300])
    else:
        _text(stream)


def _begin(folder: Path) -> None:
    """Prints and shapes to begin with."""
    folder.mkdir(parents=True, exist_ok=True)
    for n, one in enumerate(PRINTS):
        reports = [one.report(load) for load in scenario(one)]
        for what in (0, 10, 11):
            number = len(shipped()) + n
            head = bytes([what, number, 7])
            (folder / f"print-{what}-{n}").write_bytes(head + b"".join(reports[::9])[:250])
    for n, shape in enumerate(shipped().values()):
        (folder / f"shape-{n}").write_bytes(b"\x0f\x00\x00" + dump(shape).encode())


def main() -> None:
    """Fuzz until told to stop."""
    folders = [Path(one) for one in sys.argv[1:] if not one.startswith("-")]
    for one in folders:
        if one.is_dir() or not one.exists():
            _begin(one)
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
