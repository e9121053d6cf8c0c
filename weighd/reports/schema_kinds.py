"""Of each kind of entry, what its body holds: the table that the JSON Schema is made from."""

from __future__ import annotations

from collections.abc import Mapping

from weighd.domain.addition import Do
from weighd.domain.batch import Cause, Kind
from weighd.domain.check import Part, Place
from weighd.domain.check_record import CHECKED
from weighd.domain.check_standing import Outcome
from weighd.domain.formula import BY_DIFFERENCE
from weighd.domain.recovery import Trouble, Way
from weighd.domain.sizing import By
from weighd.domain.zero import Moved
from weighd.reports.schema_keeping import KEEPING
from weighd.reports.schema_lots import LOTS
from weighd.reports.schema_parts import (
    ANYTHING,
    COUNT,
    KEY,
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
from weighd.reports.schema_process import AFTER_WEIGHING

_ADDITION: Fields = {"addition": about(NUMBER, "number of the weighing")}
_LEVEL: Fields = {"u_g": POSITIVE, "tare_g": MASS}
_BOTH = {"type": "boolean"}


def _stood(which: str) -> dict[str, Schema]:
    return {
        f"{which}_g": MASS,
        f"{which}_u_g": POSITIVE,
        f"{which}_budget": ref("budget"),
    }


_STOOD_EVIDENCE = thing({}, {"before": ref("evidence"), "after": ref("evidence")})
_FORMULA = thing(
    {
        "id": TEXT,
        "name": TEXT,
        "revision": about(TEXT, "the first digits of the SHA-256 of its content"),
        "content": about(ANYTHING, "the whole formula: everything that makes it what it is"),
    }
)
_AS_WEIGHED: Fields = {"as_weighed": listed(ref("sum"))}


_SIZE = about(
    thing(
        {"by": one_of(By), "asked": TEXT, "batch_g": POSITIVE, "words": TEXT},
        {
            "scarcest": about(TEXT, "the ingredient on hand that decided"),
            "overrun_percent": MASS,
            "rounded": listed(
                thing(
                    {
                        "n": NUMBER,
                        "scale": TEXT,
                        "interval_g": POSITIVE,
                        "exact_g": POSITIVE,
                        "target_g": POSITIVE,
                    },
                    {"kept": about(TRUE, "not moved: its tolerance has no room for it")},
                )
            ),
        },
    ),
    "how the size of the batch was chosen",
)
_OPENED = of_batch(
    {
        "formula": _FORMULA,
        "batch_g": about(POSITIVE, "batch size that was asked for"),
        "operator": TEXT,
        "rule": ref("rule"),
        "scales": by_name(ref("scale")),
        "additions": listed(ref("planned")),
    },
    {
        "vessel": ref("vessel"),
        "weighd": about(TEXT, "version of weighd"),
        "plan": ref("plan"),
        "size": _SIZE,
    },
    "A batch of a formula is begun.",
)
_TARED = of_batch(
    {
        **_ADDITION,
        **_LEVEL,
        "scale": TEXT,
        "by": TEXT,
        "evidence": ref("evidence"),
    },
    {
        "budget": ref("budget"),
        "vessel": thing(
            {"name": TEXT, "mass_g": POSITIVE, "u_g": POSITIVE, "allow_g": POSITIVE},
            {
                "fits": maybe(_BOTH),
                "differs_g": MASS,
                "holds_g": MASS,
                "limit_g": POSITIVE,
                "contents_g": MASS,
            },
        ),
        "not_added_g": MASS,
        "expected_g": MASS,
        "expected_u_g": POSITIVE,
        "expected_confirmed": _BOTH,
        "stood_g": MASS,
        "stood_confirmed": _BOTH,
    },
    "What stands on a scale is the tare of a weighing.",
)
_ACCEPTED = of_batch(
    {
        **_ADDITION,
        "ingredient": TEXT,
        "name": TEXT,
        "lot": TEXT,
        "target_g": POSITIVE,
        "low_g": MASS,
        "high_g": POSITIVE,
        "tolerance": TEXT,
        "net_g": MASS,
        "tare_g": MASS,
        "tare_u_g": POSITIVE,
        "gross_g": MASS,
        "gross_u_g": POSITIVE,
        "deviation_g": MASS,
        "u_g": about(POSITIVE, "standard uncertainty of the net"),
        "verdict": ref("verdict"),
        "rule": ref("rule"),
        "reason": TEXT,
        "scale": TEXT,
        "interval_g": POSITIVE,
        "repeatability_g": POSITIVE,
        "operator": TEXT,
        "started": TIME,
        "accepted": TIME,
        "evidence": thing(
            {"decoder": ref("decoder"), "tare": ref("readings"), "gross": ref("readings")}
        ),
    },
    {
        "budget": ref("budget"),
        "gross_budget": ref("budget"),
        "guard_g": POSITIVE,
        "accept_low_g": MASS,
        "accept_high_g": MASS,
        "method": one_of([BY_DIFFERENCE]),
        "zero_moves": listed(NUMBER),
        "lots": about(
            listed(thing({"lot": TEXT, "g": MASS}), 2), "where one ran out: what was taken of each"
        ),
        "carried_u_g": POSITIVE,
        "drift_g_min": MASS,
        "check": ref("standing"),
    },
    "What went in of an ingredient, and all that its verdict follows from.",
)
_HELD = of_batch(
    {
        **_ADDITION,
        "cause": one_of(Cause),
        "scale": TEXT,
        "sum_g": maybe(MASS),
    },
    {
        **_stood("before"),
        **_stood("after"),
        "settled": _BOTH,
        "evidence": _STOOD_EVIDENCE,
    },
    "A weighing waits for somebody, or for its scale.",
)
_ZERO_MOVED = of_batch(
    {
        **_ADDITION,
        **_LEVEL,
        "scale": TEXT,
        "cause": one_of(Moved),
        "by": TEXT,
        "sum_g": maybe(MASS),
        **_stood("after"),
        **_stood("shift"),
        "budget": ref("budget"),
        "evidence": _STOOD_EVIDENCE,
    },
    {**_stood("before"), "settled": _BOTH},
    "A scale's zero moved; what was in is counted on from there.",
)
_PUT_RIGHT = of_batch(
    {
        **_ADDITION,
        "scale": TEXT,
        "cause": one_of(Trouble),
        "way": one_of(Way),
        "rests_on_g": MASS,
        "net_g": MASS,
        "mass_g": POSITIVE,
        "wholes": listed(thing({"of": NUMBER, "target_g": POSITIVE})),
        "additions": listed(ref("planned")),
        "reason": TEXT,
        "by": TEXT,
    },
    {
        "was": ref("ingredient"),
        "others": listed(
            thing(
                {
                    "of": NUMBER,
                    "ingredient": TEXT,
                    "name": TEXT,
                    "allergens": listed(TEXT),
                    "caution": TEXT,
                },
                {"composition": ANYTHING},
            )
        ),
        "keeps": listed(ANYTHING),
        "gross_g": MASS,
        "tare_g": MASS,
        "evidence": ref("evidence"),
    },
    "A pour that went wrong is put right: what is to be weighed from now on.",
)
_ENDED: Fields = {
    "additions": about(COUNT, "how many weighings it had"),
}

_CHECKED = thing(
    {
        "scale": TEXT,
        "by": TEXT,
        "began": TIME,
        "weighd": TEXT,
        "stated": ref("scale"),
        "limit_g": maybe(POSITIVE),
        "rule": ref("rule"),
        "steps": listed(
            thing(
                {
                    "n": NUMBER,
                    "part": one_of(Part),
                    "place": one_of(Place),
                    "weight": maybe(ref("weight")),
                    "net_g": MASS,
                    "error_g": MASS,
                    "u_g": POSITIVE,
                    "budget": by_name(POSITIVE),
                    "limit_g": POSITIVE,
                    "guard_g": POSITIVE,
                    "outcome": one_of(Outcome),
                    "sure": _BOTH,
                    "at": TIME,
                    "empty": ref("level"),
                    "loaded": maybe(ref("level")),
                }
            ),
            1,
        ),
        "repeatability": maybe(ref("spread")),
        "corners": maybe(thing({"most_from_centre_g": POSITIVE})),
        "outcome": one_of(Outcome),
        "left_out": listed(TEXT),
        "last_good": maybe(ref("check")),
    },
    KEY,
    "A scale was checked with weights. Such an entry is of no batch.",
)

#: The body of each kind of entry. A test fails for a kind that is not here, and for a field that
#: is recorded and not here.
KINDS: Mapping[str, Schema] = {
    Kind.OPENED: _OPENED,
    Kind.TARED: _TARED,
    Kind.HELD: _HELD,
    Kind.DECIDED: of_batch(
        {
            **_ADDITION,
            "decision": one_of([Do.TAKE_OUT, Do.TOP_UP, Do.WEIGH_AGAIN]),
            "cause": one_of(Cause),
            "sum_g": maybe(MASS),
            "by": TEXT,
        },
        words="Somebody decided what becomes of a weighing that is held.",
    ),
    Kind.RESUMED: of_batch(
        {**_ADDITION, "scale": TEXT, "by": TEXT, "cause": one_of(Cause)},
        {**_LEVEL, "sum_g": maybe(MASS), "evidence": ref("evidence")},
        "A weighing that was held for its scale goes on.",
    ),
    Kind.ZERO_MOVED: _ZERO_MOVED,
    Kind.LOT_NAMED: of_batch(
        {**_ADDITION, "lot": TEXT, "by": TEXT},
        {
            "reason": about(TEXT, "why it is used although it is past its best"),
            "from_g": about(MASS, "the net at which the lot before it had run out"),
            "scale": TEXT,
            "gross_g": MASS,
            "budget": ref("budget"),
            "evidence": ref("evidence"),
        },
        "Which lot an ingredient is taken from.",
    ),
    Kind.ACCEPTED: _ACCEPTED,
    Kind.SCALE_CHANGED: of_batch(
        {
            **_ADDITION,
            "from": TEXT,
            "to": TEXT,
            "figures": ref("scale"),
            "by": TEXT,
            "reason": TEXT,
        },
        words="What is still to be weighed on one scale is weighed on another.",
    ),
    Kind.PUT_RIGHT: _PUT_RIGHT,
    Kind.RESTARTED: of_batch(
        {**_ADDITION, "weighd": TEXT}, words="The station was started in the middle of a batch."
    ),
    Kind.WEIGHED: of_batch(
        _ENDED, _AS_WEIGHED, "All is weighed; the formula goes on with process steps."
    ),
    **AFTER_WEIGHING,
    Kind.CLOSED: of_batch(
        _ENDED,
        {**_AS_WEIGHED, "steps": COUNT, "early": TRUE, "reason": TEXT, "by": TEXT},
        "The batch is done.",
    ),
    Kind.ABANDONED: of_batch(
        {"reason": TEXT, "by": TEXT},
        {**_ADDITION, "step": NUMBER, "sum_g": maybe(MASS)},
        "The batch is given up; what went in stays in the record.",
    ),
    CHECKED: _CHECKED,
    **LOTS,
    **KEEPING,
}
