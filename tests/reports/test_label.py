"""Labels: what stands on them, what their code says when it is scanned, and any text."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from hypothesis import given, settings
from hypothesis import strategies as st

from weighd.domain.scan import read_scan
from weighd.reports.label import label_svg
from weighd.station.labels import Label

SVG = "{http://www.w3.org/2000/svg}"


def words(svg: str) -> str:
    return " ".join(one.text or "" for one in ET.fromstring(svg).iter(f"{SVG}text"))


def test_a_label_says_what_it_has_to() -> None:
    label = Label(
        "Hazelnut gelato",
        "kitchen-0007",
        (("Made", "2026-11-26"), ("Use by", "2026-12-26")),
        ("milk", "nuts (hazelnut)"),
        storage="below -18 °C",
    )
    svg = label_svg(label)
    assert svg == label_svg(label)
    for text in ("Hazelnut gelato", "kitchen-0007", "2026-12-26", "below -18 °C"):
        assert text in words(svg)
    assert "Contains: MILK, NUTS (HAZELNUT)" in words(svg)
    assert label.scanned == "kitchen-0007"


def test_a_trade_number_makes_an_address_that_is_read_back() -> None:
    """By GS1's example number, and biip as the other reader."""
    found = read_scan(Label("Ice", "kitchen-0007", (), gtin="09501101530003").scanned, 2026)
    assert (found.gtin, found.lot, found.misread) == ("09501101530003", "kitchen-0007", "")


@settings(max_examples=50, deadline=None)
@given(st.text("abc <>&'äß-", min_size=1, max_size=60), st.text("A<&-9", min_size=1, max_size=40))
def test_any_text_makes_a_whole_drawing_within_its_edges(name: str, code: str) -> None:
    root = ET.fromstring(label_svg(Label(name, code, ((name, code),) * 6, (name,))))
    high = float(root.attrib["viewBox"].split()[3])
    assert all(0 < float(one.attrib["y"]) < high for one in root.iter(f"{SVG}text"))
