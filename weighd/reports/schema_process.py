"""What the bodies of entries hold that come after weighing: process steps, and yield."""

from __future__ import annotations

from collections.abc import Mapping

from weighd.domain.batch import Kind
from weighd.domain.process import StepKind
from weighd.domain.process_run import Decision, Outcome
from weighd.domain.yields import How, Told
from weighd.reports.schema_parts import (
    ANYTHING,
    COUNT,
    HASH,
    MASS,
    NUMBER,
    POSITIVE,
    TEXT,
    TIME,
    TRUE,
    Fields,
    Schema,
    about,
    by_name,
    listed,
    maybe,
    of_batch,
    one_of,
    ref,
    thing,
)

_STEP: Fields = {"step": about(NUMBER, "number of the process step"), "by": TEXT}
_ENTERED: Fields = {"entered": about(TRUE, "the time was said by a person, not by the clock")}
_RANGE = {"type": "array", "items": MASS, "minItems": 2, "maxItems": 2}
_DRY_ICE = thing(
    {
        "asked": by_name(TEXT),
        "counted_g": POSITIVE,
        "room": thing(
            {
                "peak_ppm": MASS,
                "quarter_ppm": MASS,
                "shift_ppm": MASS,
                "above": listed(TEXT),
            }
        ),
    },
    {
        "heat_kj": _RANGE,
        "charge_g": _RANGE,
        "heat_unknown": TEXT,
        "weighed": thing(
            {
                "scale": TEXT,
                "interval_g": POSITIVE,
                "tare_g": MASS,
                "net_g": POSITIVE,
                "u_g": POSITIVE,
                "rate_g_min": MASS,
                "u_rate_g_min": POSITIVE,
                "watched_s": POSITIVE,
                "evidence": ref("evidence"),
            }
        ),
    },
    "What a step with dry ice was reckoned with, and what was weighed out.",
)

_YIELD = of_batch(
    {
        "draw": NUMBER,
        "by": TEXT,
        "found": thing(
            {
                "density_g_ml": maybe(POSITIVE),
                "density": one_of(How),
                "batch": thing(
                    {
                        "in_g": POSITIVE,
                        "in_u_g": POSITIVE,
                        "drawn_g": maybe(MASS),
                        "left_g": POSITIVE,
                        "loss_g": maybe(MASS),
                        "loss_u_g": maybe(POSITIVE),
                        "loss_percent": maybe(MASS),
                        "told": one_of(Told),
                        "product_g": maybe(POSITIVE),
                        "product_ml": maybe(POSITIVE),
                        "portions": COUNT,
                        "overrun_percent": maybe(MASS),
                    }
                ),
            },
            {
                "mix_g": maybe(MASS),
                "overrun_percent": maybe(MASS),
                "overrun_u_percent": maybe(POSITIVE),
                "cup_overrun_percent": maybe(MASS),
                "cup_overrun_u_percent": maybe(POSITIVE),
                "product_g_ml": maybe(POSITIVE),
            },
            "What follows from it: of this draw, and of all that stand with it.",
        ),
    },
    {
        "weight": {
            "anyOf": [
                ref("typed_mass"),
                thing(
                    {
                        "scale": TEXT,
                        "figures": ref("scale"),
                        "gross_g": MASS,
                        "tare": thing(
                            {"g": POSITIVE, "u_g": POSITIVE}, {"vessel": TEXT, "typed": TEXT}
                        ),
                        "budget": ref("budget"),
                        "g": POSITIVE,
                        "u_g": POSITIVE,
                    }
                ),
            ]
        },
        "volume": ref("typed_volume"),
        "fill": ref("typed_volume"),
        "containers": NUMBER,
        "pieces": ref("typed_mass"),
        "pieces_density_g_ml": POSITIVE,
        "left": ref("typed_mass"),
        "cup": thing({"mix": ref("typed_mass"), "product": ref("typed_mass")}),
        "sample": thing({"weight": ref("typed_mass"), "volume": ref("typed_volume")}),
        "portions": NUMBER,
        "corrects": thing({"draw": NUMBER, "hash": HASH}),
        "reason": TEXT,
        "evidence": ref("evidence"),
    },
    "A draw of what came of the batch, or a correction of one.",
)

#: The bodies, by kind of entry.
AFTER_WEIGHING: Mapping[str, Schema] = {
    Kind.STEP_BEGUN: of_batch(
        {**_STEP, "kind": one_of(StepKind), "begun": TIME, "confirmed": listed(TEXT)},
        {**_ENTERED, "pair": TEXT, "dry_ice": _DRY_ICE},
        "A process step begins, its cautions confirmed by name.",
    ),
    Kind.VALUE_ENTERED: of_batch(
        {**_STEP, "value": NUMBER, "temperature": TEXT, "taken": TIME},
        {**_ENTERED, "held_s": POSITIVE},
        "A temperature that was measured in a step.",
    ),
    Kind.VALUE_STRUCK: of_batch(
        {**_STEP, "value": NUMBER, "reason": TEXT}, words="Such a temperature is taken back."
    ),
    Kind.STEP_ENDED: of_batch(
        {**_STEP, "ended": TIME, "outcome": one_of(Outcome), "judged": ANYTHING},
        {**_ENTERED, "reason": TEXT},
        "A step is over, and what follows from its temperatures and times.",
    ),
    Kind.STEP_DECIDED: of_batch(
        {**_STEP, "decision": one_of(Decision), "reason": TEXT},
        {"from_step": NUMBER},
        "Somebody decided what becomes of a step that did not come out as it should.",
    ),
    Kind.STEP_NOTED: of_batch(
        {**_STEP, "note": TEXT}, words="Something that was written down with a step."
    ),
    Kind.CLOCK_SET: of_batch(
        {
            "step": NUMBER,
            "was": TIME,
            "now": TIME,
            "stand": thing({"begun": {"type": "boolean"}, "values": COUNT}),
        },
        words="The clock was set while a step went on: by how much, and what was recorded by then.",
    ),
    Kind.YIELD: _YIELD,
    Kind.CORRECTED: of_batch(
        {
            "of": thing({"n": NUMBER, "hash": HASH}, about="The entry in this batch."),
            "field": about(TEXT, "lot, lot 1, lot 2 ..., operator, reason, note or vessel"),
            "old": TEXT,
            "new": TEXT,
            "reason": TEXT,
            "by": TEXT,
        },
        {
            "drew": thing(
                {
                    "addition": NUMBER,
                    "ingredient": TEXT,
                    "part": NUMBER,
                    "g": MASS,
                    "u_g": POSITIVE,
                },
                about="What the addition took of the lot, or of this part of it.",
            ),
            "although": about(TEXT, "what spoke against the lot, that did go in all the same"),
        },
        "What a person typed or named was put right; the entry that it is about stays.",
    ),
    Kind.COUNTERSIGNED: of_batch(
        {
            "of": thing(
                {"n": NUMBER, "hash": HASH},
                about="As far as which entry of this batch it was looked at: nothing after it.",
            ),
            "by": TEXT,
        },
        {"note": TEXT},
        "A second person, who had no part in the batch, looked at its record once it was over.",
    ),
}
