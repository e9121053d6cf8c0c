"""Labels as PDF: what stands on them, that all of it is inside their box, and that their code is
read back by a reader of its own (ZXing) and names the lot at the station."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any, get_args, get_type_hints

import pytest
from PIL import Image
from pypdf import PdfReader

from tests.reports.test_label import words as drawn_words
from tests.station.process_cook import Cook
from tests.station.scripted import Hand
from tests.station.test_lots import receive
from weighd.config.sections import LabelsSection
from weighd.domain.errors import OperatorError
from weighd.domain.fold import fold
from weighd.domain.label_size import read_label_size
from weighd.domain.scan import read_scan
from weighd.reports.label import label_svg
from weighd.reports.label_sheet import labels_pdf, labels_png, not_in_fonts
from weighd.reports.typeset import qr_path
from weighd.station.label_words import ENGLISH, LANGUAGES
from weighd.station.labels import Label, labels_of_batch, labels_of_lot, proposed
from weighd.station.lots_drawn import draw_lot
from weighd.station.scanning import identify

DAY = "2026-11-26"
ICE = Label(
    "Blackcurrant and buttermilk sorbet",
    "kitchen-0007",
    (("Made", DAY), ("Use by", "2026-12-26")),
    ("milk", "nuts (hazelnut)"),
    "09501101530003",  # GS1's example number
    "2026-12-26",
    "250\N{NO-BREAK SPACE}g",
    "at \N{MINUS SIGN}18 °C or colder",
    "Invented kitchen",
    (1, 6),
)
#: The fourteen allergens that Regulation (EU) 1169/2011 has in Annex II.
FOURTEEN = (
    *("gluten (wheat)", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk"),
    *("nuts (hazelnut)", "celery", "mustard", "sesame seeds", "sulphur dioxide and sulphites"),
    *("lupin", "molluscs"),
)
LONG = replace(
    ICE,
    name="A frozen dessert with caramelised hazelnuts, salted caramel, buttermilk and "
    "Donaudampfschifffahrtsgesellschaftskapitänsmützen",
    code="kitchen-of-an-invented-town-0123456-0007",
    allergens=FOURTEEN,
    storage="at \N{MINUS SIGN}18 °C or colder, never again once it was thawed, away from light",
)


def scanned(page: bytes) -> list[str]:
    import zxingcpp

    picture = Image.open(io.BytesIO(page)).convert("L")
    return [one.text for one in zxingcpp.read_barcodes(picture)]


def words(made: bytes) -> str:
    text = " ".join(one.extract_text() for one in PdfReader(io.BytesIO(made)).pages)
    return " ".join(text.replace("\u200b", "").replace("\u00a0", " ").split())


def inked(page: bytes) -> tuple[float, float, float, float]:
    """What is printed of a page: left, top, right, bottom, as shares of it."""
    picture = Image.open(io.BytesIO(page)).convert("L").point(lambda one: 255 if one < 200 else 0)
    box = picture.getbbox()
    assert box is not None
    wide, high = picture.size
    return box[0] / wide, box[1] / high, box[2] / wide, box[3] / high


@pytest.mark.parametrize("label", [ICE, LONG], ids=["ordinary", "long"])
@pytest.mark.parametrize("size", ["62x100", "100x62", "50x90", "40x150"])
def test_all_of_it_stands_inside_the_label_and_its_code_is_read_back(
    label: Label, size: str
) -> None:
    chosen = read_label_size(size)
    (page,) = labels_png([label], chosen, "link", DAY, 300)
    left, top, right, bottom = inked(page)
    # 2 mm on all sides stay white: half of one for what a line may stand out.
    assert left * float(chosen.wide) > 1.5
    assert top * float(chosen.high) > 1.5
    assert (1 - right) * float(chosen.wide) > 1.5
    assert (1 - bottom) * float(chosen.high) > 1.5
    assert scanned(page) == [label.scanned]
    made = words(labels_pdf([label], chosen, "link", DAY)).replace(" ", "")
    for text in (label.name, label.code, label.net, label.storage, "1of6", label.station):
        assert text.replace(" ", "").replace("\u00a0", "") in made, text
    for one in label.allergens:
        assert one.upper().replace(" ", "") in made


def test_letters_are_never_smaller_than_can_be_read() -> None:
    """An x-height of 0.9 mm is 6 points of this font; on 80 cm² and more, of 1.2 mm, 8."""
    for size, least in (("40x150", 6), ("100x100", 8)):
        sizes: list[float] = []
        made = labels_pdf([LONG], read_label_size(size), "link", DAY)
        PdfReader(io.BytesIO(made)).pages[0].extract_text(
            visitor_text=lambda text, _cm, tm, _font, pt, sizes=sizes: (
                sizes.append(pt * abs(tm[3])) if text.strip() else None
            )
        )
        # The foot is set at 0.85 of the rest; what it says is nothing that has to be there.
        assert min(sizes) >= least * 0.85 - 0.01


def test_a_german_label_has_its_words_and_the_comma() -> None:
    """``Zu verbrauchen bis`` is the wording of Regulation (EU) 1169/2011, Annex X; from memory."""
    label = Label(
        "Haselnuss-Eis",
        "kueche-0007",
        (("Made", "2026-11-26"), ("Use by", "2026-12-26")),
        ("Milch", "Haselnüsse"),
        net="250.5\u00a0g",
        storage="unter -18.5 °C",
        nth=(2, 6),
        language="de",
    )
    size = read_label_size("62x60")
    made = " ".join(words(labels_pdf([label], size, "link", DAY)).split())
    for text in (
        "Hergestellt 2026-11-26",
        "Zu verbrauchen bis 2026-12-26",
        "Füllmenge 250,5",
        "Aufbewahren unter -18.5 °C",  # as the kitchen wrote it
        "Enthält: MILCH, HASELNÜSSE",
        "2 von 6",
    ):
        assert text in made, (text, made)
    assert "Contains" not in made
    assert "Enthält: MILCH, HASELNÜSSE" in drawn_words(label_svg(label))


def test_each_language_has_each_word() -> None:
    for words_of in LANGUAGES.values():
        assert tuple(words_of.facts) == ENGLISH
        assert all(words_of.facts.values())
    configured = get_args(get_type_hints(LabelsSection)["language"])
    assert configured == tuple(LANGUAGES)


def test_what_does_not_fit_is_refused_and_never_cut_off() -> None:
    with pytest.raises(OperatorError) as caught:
        labels_pdf([LONG], read_label_size("62x29"), "link", DAY)
    assert (caught.value.code, caught.value.where) == ("label-too-small", "size")
    assert "Choose a larger label." in str(caught.value)


def test_many_go_on_a_sheet_each_in_its_place() -> None:
    size = read_label_size("62x64 on 210x297 gap 4x2")
    assert (size.across, size.down, size.alone) == (3, 4, False)
    some = [replace(ICE, nth=(n, 14), code=f"kitchen-{n:04}") for n in range(1, 15)]
    pages = labels_png(some, size, "link", DAY, 200)
    assert len(pages) == 2
    assert sorted(scanned(pages[0])) == sorted(one.scanned for one in some[:12])
    assert sorted(scanned(pages[1])) == sorted(one.scanned for one in some[12:])
    reader = PdfReader(io.BytesIO(labels_pdf(some, size, "link", DAY)))
    assert [round(float(one) * 25.4 / 72) for one in reader.pages[0].mediabox[2:]] == [210, 297]
    assert reader.xmp_metadata is not None
    assert (reader.xmp_metadata.pdfaid_part, reader.xmp_metadata.pdfaid_conformance) == ("2", "A")


def test_scripts_that_the_fonts_lack_are_told_and_stand_as_numbers() -> None:
    label = replace(ICE, name="日本 \N{STRAWBERRY} sorbet", allergens=("חלב",))
    assert not_in_fonts([label, label]) == ["日", "本", "\N{STRAWBERRY}"]
    made = words(labels_pdf([label], read_label_size("100x100"), "link", DAY))
    assert "<U+65E5>" in made.replace(" ", "")
    assert "sorbet" in made


@pytest.mark.parametrize(
    "text", ["#panic() *x* $y$", "= a // b", "\u202eabc", "<script>", "", "x" * 300]
)
def test_what_somebody_typed_is_text_and_nothing_else(text: str) -> None:
    label = replace(ICE, name=text, storage=text[:80], station=text[:80], allergens=(text[:40],))
    made = words(labels_pdf([label], read_label_size("100x150"), "link", DAY)).replace(" ", "")
    if text.isascii() and text:
        assert text.replace(" ", "")[:60] in made


# --- what the code names ------------------------------------------------------------------------


def test_a_label_scanned_at_the_station_names_the_lot() -> None:
    """Printed, read by ZXing off the picture, and given to the station's own scanner."""
    hand = Hand()
    receive(hand, lot="R-0001", quantity="2 kg")
    receive(hand, lot="kitchen-0007", quantity="1 kg", gtin=ICE.gtin)
    book = hand.station.stock.book
    own = draw_lot(book.find("R-0001"), DAY)  # type: ignore[arg-type]
    cases = [(labels_of_lot(own, ("milk",), "kitchen")[0], "link", "R-0001")]
    cases += [(ICE, form, "kitchen-0007") for form in ("link", "elements")]
    for label, form, code in cases:
        (page,) = labels_png([label], read_label_size("62x50"), form, DAY)
        (text,) = scanned(page)
        found = read_scan(text, 2026)
        lot, _ = identify(found, book, {})
        assert lot is not None
        assert (lot.code, found.misread) == (code, "")
    assert read_scan(ICE.scanned_as("elements"), 2026).use_by == "2026-12-26"


def test_without_a_trade_number_the_code_is_our_own() -> None:
    own = replace(ICE, gtin="")
    assert own.scanned_as("elements") == own.scanned_as("link") == "kitchen-0007"
    # A lot may have 20 characters in GS1 data (AI 10), and no others than those of set 82.
    for code in ("x" * 21, "née-0007"):
        assert replace(ICE, code=code).scanned_as("elements") == code


def test_the_page_gets_the_same_code_as_a_path() -> None:
    path, modules = qr_path("kitchen-0007")
    marks = Image.new("L", (modules + 8, modules + 8), 255)
    for one in path.split("M")[1:]:
        x, y = one.split("h")[0].split()
        marks.putpixel((int(x) + 4, int(y) + 4), 0)
    out = io.BytesIO()
    marks.resize((8 * (modules + 8),) * 2, Image.Resampling.NEAREST).save(out, "png")
    assert scanned(out.getvalue()) == ["kitchen-0007"]


# --- which labels -------------------------------------------------------------------------------


def test_labels_of_a_batch_and_of_its_containers() -> None:
    cook = Cook()
    batch = cook.weigh()

    def made() -> Any:
        found = fold(cook.of(batch))
        assert found is not None
        return found

    (one,) = labels_of_batch(made(), "kitchen")
    assert dict(one.lines())["Weighed in"] == "622 g".replace(" ", "\u00a0")
    assert (one.nth, one.allergens) == (None, ("milk",))
    with pytest.raises(OperatorError, match="Record a draw first"):
        labels_of_batch(made(), "kitchen", of="draws")
    cook.do("record yield", batch=batch, by="Bo", draw={"weight": "500 g", "containers": 2})
    cook.do("record yield", batch=batch, by="Bo", draw={"weight": "75 g"})
    found = labels_of_batch(made(), "kitchen", of="draws")
    assert [one.net for one in found] == ["250\u00a0g", "250\u00a0g", "75\u00a0g"]
    assert [one.nth for one in found] == [(1, 3), (2, 3), (3, 3)]
    assert proposed(made()) == {"draws": 2, "containers": 3, "net": "575\u00a0g"}
    assert labels_of_batch(made(), "kitchen")[0].net == "575\u00a0g"
    many = labels_of_batch(made(), "kitchen", copies=4, each="0.12 kg")
    assert [one.net for one in many] == ["120\u00a0g"] * 4
    # What is in each of several is not known unless somebody says so.
    assert [one.net for one in labels_of_batch(made(), "kitchen", copies=2)] == ["", ""]
    for wrong in ({"copies": 0}, {"copies": 501}, {"each": "much"}, {"of": "x"}):
        with pytest.raises(OperatorError) as caught:
            labels_of_batch(made(), "kitchen", **wrong)  # type: ignore[arg-type]
        assert (caught.value.code, caught.value.where) == ("bad-labels", next(iter(wrong)))


def test_a_batch_that_is_not_all_weighed_has_no_label() -> None:
    hand = Hand()
    hand.start()
    found = fold(hand.journal)
    assert found is not None
    with pytest.raises(OperatorError) as caught:
        labels_of_batch(found, "kitchen")
    assert caught.value.code == "not-made"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("62", "no size"),
        ("62x", "no size"),
        ("10x10", "from 15 to 450"),
        ("62x500", "from 15 to 450"),
        ("62x40 on 60x100", "larger than its sheet"),
        ("62x40 on A4", "no size"),
        ("-62x40", "no size"),
    ],
)
def test_a_size_that_is_none_is_told(text: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        read_label_size(text)
