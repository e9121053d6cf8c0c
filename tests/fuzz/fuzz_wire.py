"""Coverage-guided fuzzing of everything that reads a scale's bytes or a shape's text.

    pip install atheris                       # Linux on x86 only, so no test needs it
    python tests/fuzz/fuzz_wire.py [--only=lines,hid] -max_total_time=3600 FOLDER

Targets are ``lines``, ``any`` (shapes of any kind, as Hypothesis makes them), ``hid``, ``auto``,
``find`` and ``text``; all of them, unless ``--only`` says which. ``FOLDER`` keeps what was found
interesting, for each choice of targets one of its own; it is begun with the generated prints. A
crash is written to ``crash-...``, and read again by naming it. What must hold, whatever comes:

1. Nothing is raised but :class:`ScaleError`, and that only by the text of a shape.
2. Two ways of cutting a stream into chunks give the same readings, count and shape.
3. A reading's bytes are in the stream and read again to the same grams; a number is finite.
4. What a decoder keeps is bounded.
5. Reports read together (``layout_run``) say what each says alone.
6. A report descriptor and the reports after it, framed as ``hid`` says, likewise; and whatever a
   device answers when it is asked for facts.
"""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import atheris

_ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(_ROOT), str(_ROOT / "drivers")]

with atheris.instrument_imports(include=["weighd_drivers"]):
    from weighd_drivers.auto import AutoDecoder
    from weighd_drivers.finder import find
    from weighd_drivers.hid import DESCRIPTOR, REPORT, HidDecoder, framed
    from weighd_drivers.hid import redecoder_for as hid_redecoder_for
    from weighd_drivers.hid_descriptor import DescriptorError
    from weighd_drivers.hid_descriptor import parse as parse_descriptor
    from weighd_drivers.hid_facts import facts_of
    from weighd_drivers.lines import LineDecoder
    from weighd_drivers.shape_text import dump, parse, shape_of, shipped

from tests.drivers.hid_descriptors import (  # noqa: E402
    APART,
    APART_FLAGS,
    BARE,
    FULL,
    LISTED,
    PUBLISHED,
    TOGETHER,
    ZERO_AS_FEATURE,
)
from tests.drivers.test_any_shape import (  # noqa: E402
    test_cut_or_whole_together_or_alone_it_says_the_same as any_shape,
)
from tests.drivers.wire_world import PRINTS, scenario  # noqa: E402
from weighd.domain import mass  # noqa: E402
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
#: A published descriptor, and those that the tests made.
DESCRIPTORS = [PUBLISHED, LISTED, APART, APART_FLAGS, TOGETHER, FULL, BARE, ZERO_AS_FEATURE]
HID_REPORTS = ["030402000200", "030203ffe204", "040400000000", "0805ff340000", "e204ff040300"]


def _fed(decoder: Decoder, stream: bytes, size: int) -> list[Reading]:
    out: list[Reading] = []
    for at in range(0, len(stream), size):
        out += decoder.feed(0.0, stream[at : at + size])
    return out


def _lines(pick: int, size: int, stream: bytes) -> None:
    shape = SHAPES[pick % len(SHAPES)]
    whole, cut, alone = LineDecoder(shape), LineDecoder(shape), LineDecoder(shape)
    alone._runs = None
    readings = _fed(whole, stream, len(stream) or 1)
    assert readings == _fed(cut, stream, size) == _fed(alone, stream, len(stream) or 1)
    assert whole.rejected == cut.rejected == alone.rejected
    assert whole.last_rejected == alone.last_rejected
    assert len(cut._rest) < 1024
    for one in readings:
        assert one.raw in stream
        assert one.grams is None or one.grams.is_finite()
    if readings:
        assert shape_of(whole.spec) == shape
    for one in readings[:8]:
        (again,) = LineDecoder(shape, joined=True).feed(0.0, one.raw)
        assert again == one
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


def _hid(pick: int, size: int, data: bytes) -> None:
    """A descriptor that is known, damaged or any bytes; then reports of any bytes."""
    descriptor = DESCRIPTORS[pick % len(DESCRIPTORS)]
    count, data = (data[0], data[1:]) if data else (0, data)
    if count >= 200:
        cut = 8 * (count - 200)
        descriptor, data = data[:cut], data[cut:]
    elif count >= 100:
        at, data = data[:2], data[2:]
        if len(at) == 2:
            descriptor = descriptor[: at[0]] + at[1:] + descriptor[at[0] + 1 :]
    with suppress(DescriptorError):
        told = facts_of(
            parse_descriptor(descriptor), lambda report, size: bytes([report]) + data[:size]
        )
        assert all(mass.parse(told[key]) > 0 for key in told if key.endswith("_g"))
    stream = framed(DESCRIPTOR, descriptor)
    while data:
        length = data[0] % 16
        report, data = data[1 : 1 + length], data[1 + length :]
        stream += framed(REPORT, report) if length < 12 else report
    whole, cut = HidDecoder(), HidDecoder()
    readings = _fed(whole, stream, len(stream))
    assert readings == _fed(cut, stream, size)
    assert (whole.rejected, whole.spec) == (cut.rejected, cut.spec)
    assert len(cut._rest) < 5000
    spec = json.loads(json.dumps(whole.spec))
    for one in readings:
        assert one.grams is None or one.grams.is_finite()
        if whole.spec["report"] is not None and stream.count(b"D") == 1:
            again = hid_redecoder_for(spec).feed(0.0, one.raw)
            assert list(again) == [one]


TARGETS: dict[str, Callable[[int, int, bytes], None]] = {
    "lines": _lines,
    "hid": _hid,
    "auto": lambda _, size, data: _auto(size + 8, data[:100]),
    "find": lambda _pick, _size, data: _find(data[:300]),
    "text": lambda _pick, _size, data: _text(data),
    "any": lambda _pick, _size, data: any_shape.hypothesis.fuzz_one_input(data),
}
#: What the first byte chooses among; those that are slow stand here once.
CHOICE = ["lines"] * 4 + ["any"] * 3 + ["hid"] * 4 + ["auto"] + ["find"] * 2 + ["text"] * 2


def one_input(data: bytes) -> None:
    """One input: what to try, a choice of shape, a chunk size, and the bytes."""
    if len(data) >= 4:
        TARGETS[CHOICE[data[0] % len(CHOICE)]](data[1], data[2] % 23 + 1, data[3:2000])


def _begin(folder: Path) -> None:
    """Prints, shapes and descriptors to begin with, those that are wanted."""
    folder.mkdir(parents=True, exist_ok=True)

    def put(what: str, name: str, pick: int, data: bytes) -> None:
        if what in CHOICE:
            head = bytes([CHOICE.index(what), pick, 7])
            (folder / f"{what}-{name}").write_bytes(head + data)

    for n, one in enumerate(PRINTS):
        reports = [one.report(load) for load in scenario(one)]
        for what in ("lines", "auto", "find"):
            put(what, str(n), len(shipped()) + n, b"".join(reports[::9])[:250])
    for n, shape in enumerate(shipped().values()):
        put("text", str(n), 0, dump(shape).encode())
    for n in range(30):
        put("any", str(n), 0, random.Random(n).randbytes(40 * n))
    reports = [bytes.fromhex(one) for one in HID_REPORTS]
    stream = b"".join(bytes([len(one)]) + one for one in reports)
    for n, descriptor in enumerate(DESCRIPTORS):
        put("hid", str(n), n, b"\0" + stream)
        put("hid", f"{n}-damaged", n, bytes([100, 20, 8]) + stream)
        put("hid", f"{n}-given", n, bytes([228]) + descriptor.ljust(224, b"\0")[:224] + stream)


def main() -> None:
    """Fuzz until told to stop."""
    given = sys.argv[1:]
    for one in [one for one in given if one.startswith("--only=")]:
        sys.argv.remove(one)
        CHOICE[:] = one.partition("=")[2].split(",")
    for one in [Path(one) for one in given if not one.startswith("-")]:
        if one.is_dir() or not one.exists():
            _begin(one)
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
