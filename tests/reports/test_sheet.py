"""The record sheet: what stands on it, read back from the PDF by a reader that is not ours (pypdf).

What is checked of PDF/A here: the claim in the metadata (part 2, level A), an output intent, every
font embedded with a map to Unicode, tags and a language, a title, no encryption, no script, nothing
outside the file. That is what can be read off; a whole validator of ISO 19005 is not at hand.
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, IndirectObject

from tests.dose import dose
from tests.reports.records import GOLDEN, HOSTILE, bodies, golden, of_length
from weighd.domain.errors import OperatorError, RecordError
from weighd.main.outputs import checked, sheet
from weighd.reports.printable import COVERED, printable, printables
from weighd.reports.sheet import sheet_pdf, sheet_png
from weighd.reports.sheet_data import Checked, sheet_data

SOUND = Checked(weighings=6, entries=16)


def read(made: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(made), strict=True)


def words(made: bytes) -> str:
    """All text of a PDF in one line, without the places where words may be broken."""
    text = " ".join(page.extract_text() for page in read(made).pages)
    return " ".join(text.replace("\u200b", "").replace("\u00a0", " ").split())


def fonts(page: Any) -> list[DictionaryObject]:
    found = page["/Resources"].get("/Font", {})
    return [one.get_object() for one in found.values()]


@pytest.mark.parametrize("file", GOLDEN, ids=lambda one: one.stem)
def test_an_ordinary_batch_takes_one_page_that_claims_and_looks_like_pdf_a(file: Any) -> None:
    made, trouble = sheet(golden(file.name.removesuffix(".golden.json")))
    assert trouble is None
    reader = read(made)
    assert len(reader.pages) == 1
    meta = reader.xmp_metadata
    assert meta is not None
    assert (meta.pdfaid_part, meta.pdfaid_conformance) == ("2", "A")
    assert not reader.is_encrypted
    root = reader.trailer["/Root"]
    intent = root["/OutputIntents"][0].get_object()
    assert intent["/S"] == "/GTS_PDFA1"
    assert len(intent["/DestOutputProfile"].get_object().get_data()) > 100
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 -- a boolean of the file, not ours
    assert root["/Lang"] == "en"
    assert reader.metadata is not None
    assert "As-weighed record" in str(reader.metadata.title)
    for page in reader.pages:
        assert len(fonts(page)) >= 2
        for font in fonts(page):
            inner = font["/DescendantFonts"][0].get_object()
            descriptor = inner["/FontDescriptor"].get_object()
            assert {"/FontFile2", "/FontFile3"} & set(descriptor)
            assert "/ToUnicode" in font
    assert not reaches_out(reader)


def reaches_out(reader: PdfReader) -> set[str]:
    """Names of what a file could do or load, anywhere in it."""
    bad = {"/JavaScript", "/JS", "/Launch", "/URI", "/EmbeddedFile", "/AA", "/OpenAction"}
    found: set[str] = set()
    for n in range(1, int(reader.trailer["/Size"])):
        one = reader.get_object(IndirectObject(n, 0, reader))
        if isinstance(one, DictionaryObject):
            found |= bad & set(one)
            found |= bad & {str(one.get("/S", "")), str(one.get("/Type", ""))}
    return found


def test_it_says_what_was_made_when_by_whom_and_from_what() -> None:
    text = words(sheet(golden("plain"))[0])
    document = golden("plain")
    for told in (
        "Lemon sorbet",
        "mill-0001",
        "900 g",
        "2026-11-26 15:26",
        "Scripted hands",
        "62b9a7632976",
        "guarded, k = 2",
        "A fine powder: mix it into the sugar first, or it clumps.",
        "not a legal-for-trade instrument",
        "Times are UTC",
        "every verdict follows from its readings (6 weighings)",
        "not signed by a station’s key",
        "Checked by".upper(),
    ):
        assert told in text, told
    for body in bodies(document, "addition accepted"):
        for key in ("name", "target_g", "net_g", "verdict", "lot"):
            assert body[key] in text, (key, body[key])
    assert "448.6 to 453.0" in text  # 448.57585 to 453.08415, inward to 0.1 g
    assert "a gram more does no harm here" in text
    assert "Held: too much; 224.5 g were in." in text
    assert document["entries"][-1]["hash"] in text.replace(" ", "")


@pytest.mark.parametrize("ppi", [100, 150, 300])
def test_the_code_in_the_corner_names_batch_and_hash(ppi: int) -> None:
    """Read off the page as a picture by a reader of its own (ZXing)."""
    import zxingcpp
    from PIL import Image

    document = golden("plain")
    (page,) = sheet_png(document, SOUND, ppi)
    (code,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(page)).convert("L"))
    assert code.text == f"weighd mill-0001 sha256:{document['entries'][-1]['hash']}"


def test_the_same_record_gives_the_same_bytes_in_another_process() -> None:
    asked = (
        "import sys, hashlib; from tests.reports.records import golden; "
        "from weighd.main.outputs import sheet; "
        "print(hashlib.sha256(sheet(golden('over-pour'))[0]).hexdigest())"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", asked],
            capture_output=True,
            text=True,
            check=True,
            env={"TZ": zone, "PYTHONHASHSEED": seed, "PYTHONPATH": ":".join(sys.path)},
        ).stdout
        for zone, seed in (("UTC", "1"), ("Pacific/Auckland", "2"))
    }
    assert len(made) == 1
    assert len(made.pop().strip()) == 64


def test_a_record_that_was_changed_is_told_in_large_letters() -> None:
    document = golden("plain")
    bodies(document, "addition accepted")[1]["net_g"] = "212.5"
    bodies(document, "addition accepted")[1]["verdict"] = "on target"
    made, trouble = sheet(document)
    assert trouble is not None
    assert trouble.code == "hash-mismatch"
    text = words(made)
    assert "This record does not hold." in text
    assert "DOES NOT HOLD" in text
    assert f"{trouble.where}: {trouble.message}" in text
    assert "there is nothing to sign" in text
    assert "Weighed by".upper() not in text
    assert "every verdict follows" not in text


def test_large_means_large() -> None:
    """The words stand in letters of more than 20 points."""
    document = golden("plain")
    document["entries"][3]["hash"] = "0" * 64
    sizes: dict[str, float] = {}

    def note(text: str, _matrix: Any, _at: Any, _font: Any, size: float) -> None:
        if "does not hold." in text:
            sizes[text] = size

    read(sheet(document)[0]).pages[0].extract_text(visitor_text=note)
    assert max(sizes.values()) > 20


def test_whose_signature_a_record_carries_is_told() -> None:
    key = "3f9a12c077de0b41" + "0" * 48
    text = words(sheet_pdf(golden("plain"), Checked(signed=[key], weighings=6, entries=16)))
    assert "by the key 3f9a-12c0-77de-0b41" in text


def test_sixty_additions_take_pages_with_their_headings() -> None:
    made = sheet_pdf(of_length(60), Checked(weighings=60, entries=70))
    pages = read(made).pages
    assert 3 <= len(pages) <= 4
    for n, page in enumerate(pages, start=1):
        text = " ".join(page.extract_text().split())
        assert f"page {n} of {len(pages)}" in text
        assert text.index("mill-0001") < 20
        if n < len(pages):
            assert "Allowed, g" in text
    # Each addition stands on one page, with what belongs to it.
    for page in pages:
        text = page.extract_text()
        assert text.count("scale bench") == len(re.findall(r"(?:on target|over)\d+\n", text))


def test_an_abandoned_batch_says_so_and_what_was_not_weighed() -> None:
    text = words(sheet(golden("abandoned"))[0])
    assert "Batch mill-0001, abandoned" in text
    assert "the blackcurrants had gone off" in text
    assert "Abandoned; 152.3 g were in." in text
    assert text.count("not weighed") == 6
    assert "Contains: milk" in text


def test_by_difference_and_several_scales_are_told() -> None:
    assert "by difference" in words(sheet(golden("by-difference"))[0])
    text = words(sheet(golden("planned"))[0])
    assert "scale fine (interval 0.01 g)" in text
    assert "scale bench (interval 0.1 g)" in text


def test_the_check_of_a_scale_is_told_and_a_doubt_stands_out() -> None:
    text = words(sheet(golden("checked"))[0])
    assert "check: good, last 2026-11-26 19:12, pass" in text
    doubt = {"addition": 1, "scale": "bench", "standing": "overdue", "failed": None}
    assert "Addition 1: scale bench stood good, and failed its next check on 2026-11-26" in text
    data = sheet_data(golden("checked"), Checked(doubts=[doubt]))
    assert data["doubts"][0] == "Addition 1: scale bench stood overdue."
    assert [one["odd"] for one in data["weighings"]] == [True, *[False] * 5]


def test_an_entry_of_a_kind_that_is_not_known_is_shown() -> None:
    document = golden("plain")
    document["entries"][5]["kind"] = "brand new"
    document["entries"][5]["body"]["colour"] = ["green", "blue"]
    text = words(sheet(document)[0])
    assert "Brand new: cause over; scale bench; sum g 224.5; colour green, blue." in text


# --- text that somebody typed -------------------------------------------------------------------


def hostile(text: str) -> dict[str, Any]:
    """A record with a text wherever somebody can type one."""
    document = golden("plain")
    first = bodies(document, "batch opened")[0]
    first["formula"]["name"] = first["operator"] = first["formula"]["revision"] = text
    first["formula"]["content"] |= {"cautions": [text], "scenario": text}
    document["batch"] = document["station"] = text
    for planned in first["additions"]:
        planned |= {"name": text, "caution": text, "allergens": [text]}
    for body in bodies(document, "addition accepted"):
        body |= {"name": text, "reason": text, "lot": text, "operator": text, "scale": text}
    for body in bodies(document, "held"):
        body |= {"cause": text, "by": text, "reason": text}
    return document


@pytest.mark.parametrize("text", HOSTILE)
def test_what_somebody_typed_is_text_and_nothing_else(text: str) -> None:
    made, trouble = sheet(hostile(text))
    assert trouble is not None
    assert read(made).xmp_metadata.pdfaid_part == "2"  # type: ignore[union-attr]
    shown = words(made).replace(" ", "")
    if text.isascii() and "\x00" not in text and "'" not in text and '"' not in text:
        assert "".join(text.split())[:60] in shown
    assert "weighdisnotalegal-for-tradeinstrument" in shown
    assert not reaches_out(read(made))


def test_markup_stands_there_as_it_was_typed() -> None:
    text = words(sheet(hostile("#panic() *bold* $x$ @ref [a] \\ // gone"))[0])
    assert "#panic() *bold* $x$ @ref [a] \\ // gone" in text


def test_long_words_stay_on_the_page() -> None:
    """Nothing is set beyond the right margin (14 mm of 210)."""
    edge = (210 - 14) / 25.4 * 72
    reader = read(sheet(hostile("x" * 500))[0])
    assert len(reader.pages) < 20
    for page in reader.pages:
        places: list[float] = []
        page.extract_text(
            visitor_text=lambda text, _cm, tm, _font, size, places=places: places.append(
                tm[4] + (0.35 * size * len(text.strip()) if text.strip() else 0)
            )
        )
        assert max(places) < edge


def test_a_turn_of_direction_cannot_be_hidden() -> None:
    assert printable("a\u202eb \u2066c \x00d\u200be") == "a<U+202E>b <U+2066>c <U+0000>d<U+200B>e"
    assert printable("two\nlines\tand  more") == "two lines and more"
    assert printable("חלב") == "\u2068חלב\u2069"
    assert printable("🍓") == "<U+1F353>"
    assert printable("née", plain=True) == "n<U+00E9>e"
    assert "\u200b" in printable("x" * 100)


def test_the_fonts_have_every_character_that_is_left_as_it_is() -> None:
    """Set one by one in a PDF/A, which typst refuses where a font has no picture of one."""
    import typst

    template = (
        '#set text(font: ("Libertinus Serif", "New Computer Modern", "DejaVu Sans Mono"))\n'
        '#set document(title: "x", date: datetime(year: 2026, month: 1, day: 1))\n'
        "#sys.inputs.text"
    )
    fonts = typst.Fonts(include_system_fonts=False)
    compiler = typst.Compiler(font_paths=fonts, ignore_system_fonts=True)
    rest = sorted(COVERED)
    assert len(rest) > 3000
    while rest:
        some, rest = rest[:400], rest[400:]
        made = compiler.compile(
            input=template.encode(),
            format="pdf",
            pdf_standards=["a-2b"],
            sys_inputs={"text": " ".join(some)},
        )
        assert isinstance(made, bytes)


@pytest.mark.parametrize("text", ["🍓", "\u0590 \u0672 \u05c8", "日本"])
def test_what_cannot_be_set_after_all_is_set_with_numbers(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As if the list of characters were wrong: typst refuses one, and panics on another."""
    monkeypatch.setattr(
        "weighd.reports.sheet.printables",
        lambda data, *, plain=False: printables(data, plain=True) if plain else data,
    )
    document = golden("abandoned")
    bodies(document, "batch opened")[0]["operator"] = text
    shown = words(sheet_pdf(document, SOUND))
    assert f"<U+{ord(text[0]):04X}>" in shown


def test_a_press_that_fails_is_told_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    document = golden("plain")
    monkeypatch.setattr("weighd.reports.typeset.PATIENCE_S", 0.001)
    with pytest.raises(OperatorError, match="took longer") as caught:
        sheet_pdf(document, SOUND)
    assert caught.value.code == "cannot-typeset"
    monkeypatch.setattr("weighd.reports.typeset.PATIENCE_S", 20.0)
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    with pytest.raises(OperatorError, match="No such file"):
        sheet_pdf(document, SOUND)
    monkeypatch.setattr(sys, "executable", "/bin/false")
    with pytest.raises(OperatorError, match="ended with 1"):
        sheet_pdf(document, SOUND)


@given(st.text(max_size=60))
@settings(max_examples=dose(12, 25))
def test_any_text_can_be_set(text: str) -> None:
    document = golden("abandoned")
    bodies(document, "batch opened")[0]["operator"] = text
    bodies(document, "batch abandoned")[0]["reason"] = text
    assert sheet_pdf(document, SOUND).startswith(b"%PDF-")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)


@given(st.data())
@settings(max_examples=dose(12, 25))
def test_a_record_of_any_shape_makes_a_sheet_that_says_it_does_not_hold(data: Any) -> None:
    document = golden("over-pour")
    for entry in data.draw(st.lists(st.sampled_from(document["entries"]), min_size=1, max_size=4)):
        key = data.draw(st.sampled_from(sorted(entry["body"])))
        entry["body"][key] = data.draw(JSON)
    entry["kind"] = data.draw(st.sampled_from([entry["kind"], "tared", "held", "put right", "x"]))
    if document == golden("over-pour"):
        return
    found = checked(document)
    assert isinstance(found.trouble, RecordError)
    assert sheet_pdf(document, found).startswith(b"%PDF-")


def test_pages_can_be_looked_at() -> None:
    (page,) = sheet_png(golden("plain"), SOUND, 40)
    assert page.startswith(b"\x89PNG")
