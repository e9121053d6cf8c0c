"""Report descriptors of USB's scale class: a published one, and others made for the tests.

Usages as in the HID Point of Sale Usage Tables 1.02, page 0x8D.
"""

from __future__ import annotations

import json
from pathlib import Path

TABLE = json.loads((Path(__file__).parents[2] / "fixtures/tables/hid.json").read_text("utf-8"))
CHECKS = {one["name"]: one for one in TABLE["checks"]}
SIZES = CHECKS["hid_descriptor_report_sizes"]

#: A published open example.
PUBLISHED = bytes.fromhex(SIZES["inputs"]["descriptor_hex"])

#: The same scale described otherwise: usages listed one by one, no report ids, weight before the
#: rest.
LISTED = bytes.fromhex(
    "058d0920a101"
    "0940751095011500"
    "27ffff00008102"  # weight, 16 bits
    "094175089501158125"
    "7f8102"  # scaling
    "0970a102750895011501250809710972097309740975097609770978"
    "8100c0"
    "0950a10215012503095109520953"
    "8100c0"
    "c0"
)

#: Report 3: unit and scaling, an octet each, and 16 bits of weight; no status.
WEIGHT = (
    "0932a10285030950a102750895011501250c1951295c8100c009411581257f81020940751027ffff000015008102c0"
)
#: The status as an array of one octet, and as eight flags in the order of the usages.
ARRAY = "0970a102750895011501250819712978" + "8100c0"
FLAGS = "0970a102750195081500250119712978" + "8102c0"
#: A longer status report than that of the weight: six octets of padding follow.
PADDING = "750895068101"


def described(*parts: str) -> bytes:
    """The descriptor of a scale device made of these parts."""
    return bytes.fromhex("058d0920a101" + "".join(parts) + "c0")


#: A status in a report of its own (Scale Status Report, 33), as an array and as flags.
APART = described("0933a1028504", ARRAY, "c0", WEIGHT)
APART_FLAGS = described(WEIGHT, "0933a1028504", FLAGS, PADDING, "c0")
#: Flags in the report of the weight, without ids: status, unit, scaling, weight.
TOGETHER = described(FLAGS, WEIGHT.replace("8503", ""))
#: Attributes, a feature report: class (an array that begins with class I), unit, and a signed
#: scaling, an octet each.
ATTRIBUTES = (
    "0930a10285010921a10275089501150125091922292ab100c00950a102250c1951295cb100c01581257f0941b102c0"
)
#: Max, a feature report: unit, scaling, 16 bits of weight.
LIMIT = (
    "0934a10285050950a102750895011501250c1951295cb100c01581257f0941b102751027ffff000015000940b102c0"
)
#: Weight, attributes and Max; without ids, weight and Max.
FULL = described(WEIGHT, ATTRIBUTES, LIMIT)
BARE = described(WEIGHT.replace("8503", ""), LIMIT.replace("8505", ""))
#: Zero Scale as a bit of a feature report.
ZERO_AS_FEATURE = described(
    WEIGHT, "0931a1028502", "0980750195011500", "2501b102", "95017507b103", "c0"
)
#: A keyboard's usage page and usage, from memory: no scale.
NO_SCALE = bytes.fromhex("05010906a101c0")
