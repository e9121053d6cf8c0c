"""What a record sheet tells of a batch after weighing: its process steps and its yield."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from weighd.domain.batch import Kind
from weighd.domain.process import step_of_content
from weighd.domain.process_judge import in_words
from weighd.domain.room_air import LIMITS
from weighd.domain.yields import Told
from weighd.reports.sheet_stands import Words, joined, stands
from weighd.reports.sheet_words import clock, grams, signed, unsure
from weighd.reports.told import Body, Record, count, inside, rows, text, texts

Told_ = dict[str, Any]
_NOT_KNOWN = str(Told.UNKNOWN)


def steps_of(record: Record, day: str) -> list[Told_]:
    """Each doing of a step: name, when, what was measured, how it came out, by whom, and what was
    said of it. Times are of ``day`` where nothing else is said."""
    planned = rows(inside(inside(record.opening, "formula"), "content"), "steps")
    out: list[Told_] = []
    for entry in record.entries:
        kind, body = text(entry, "kind"), inside(entry, "body")
        if kind == Kind.STEP_BEGUN:
            out.append(_begun(record, entry, planned, day))
        elif not out:
            continue
        elif kind == Kind.VALUE_ENTERED:
            held = text(body, "held_s")
            told = text(body, "temperature") + (f" (held {held} s)" if held else "")
            out[-1]["values"].append(f"{told} at {clock(text(body, 'taken'), day)}")
        elif kind == Kind.VALUE_STRUCK:
            _struck(record, out[-1], entry)
        elif kind == Kind.STEP_ENDED:
            _ended(record, out[-1], entry, planned, day)
        elif kind == Kind.STEP_DECIDED:
            told = "let pass" if text(body, "decision") == "accept" else "done again"
            out[-1]["notes"].append(_signed(record, entry, "reason", f"{told}: "))
        elif kind == Kind.STEP_NOTED:
            out[-1]["notes"].append(_signed(record, entry, "note"))
    return out


def _begun(record: Record, entry: Body, planned: list[Body], day: str) -> Told_:
    body = inside(entry, "body")
    n = count(body, "step") or 0
    step = planned[n - 1] if 0 < n <= len(planned) else {}
    confirmed = texts(body, "confirmed")
    return {
        "n": str(n),
        "step": n,
        "name": text(step, "name") or text(body, "kind"),
        "begun": clock(text(body, "begun"), day),
        "ended": "",
        "values": [],
        "outcome": "not ended",
        "held": True,
        "by": stands(record, entry, "operator", text(body, "by")),
        "notes": [
            *([f"cautions confirmed: {', '.join(confirmed)}"] if confirmed else []),
            *_dry_ice(inside(body, "dry_ice")),
        ],
    }


def _dry_ice(told: Body) -> list[str]:
    """What a step with dry ice was reckoned with, and what was weighed out."""
    if not told:
        return []
    weighed = inside(told, "weighed")
    room, above = inside(told, "room"), texts(inside(told, "room"), "above")
    out = [f"dry ice: {grams(text(told, 'counted_g'))} counted"]
    if weighed:
        known = f"\u00b1\u00a0{grams(unsure(text(weighed, 'u_g')))}"
        out.append(f"{grams(text(weighed, 'net_g'))} {known} on scale {text(weighed, 'scale')}")
    out.append(f"carbon dioxide in the room up to {text(room, 'peak_ppm')} ppm, as reckoned")
    named = {one.id: f"{one.ppm} ppm ({one.by})" for one in LIMITS}
    out += [f"above the limit of {named.get(one, one)}" for one in above]
    return ["; ".join(out)]


def _struck(record: Record, run: Told_, entry: Body) -> None:
    body = inside(entry, "body")
    n = count(body, "value") or 0
    if 0 < n <= len(run["values"]):
        run["values"][n - 1] += " (struck out)"
    run["notes"].append(_signed(record, entry, "reason", f"temperature {n} struck out: "))


def _ended(record: Record, run: Told_, entry: Body, planned: list[Body], day: str) -> None:
    body = inside(entry, "body")
    run["ended"] = clock(text(body, "ended"), day)
    run["held"] = text(body, "outcome") != "done"
    run["outcome"] = "held" if run["held"] else "done"
    judged, n = inside(body, "judged"), run["step"]
    try:
        told = in_words(step_of_content(planned[n - 1]), judged)
    except (KeyError, IndexError, TypeError, ValueError):
        told = ", ".join(texts(judged, "faults"))
    reason = stands(record, entry, "reason", text(body, "reason"))
    run["notes"] += [one for one in (told, reason) if one]


def _signed(record: Record, entry: Body, field: str, ahead: str = "") -> Words:
    """What somebody wrote in a field of an entry, as it stands, and who it was."""
    body = inside(entry, "body")
    told = joined(ahead, stands(record, entry, field, text(body, field)))
    by = stands(record, entry, "operator", text(body, "by"))
    return joined(told, " (", by, ")") if by else told


def yield_of(record: Record) -> Told_ | None:
    """The draws that stand, each as it was typed, and what they come to; ``None`` for none."""
    entries = record.of(Kind.YIELD)
    if not entries:
        return None
    standing: dict[int, Told_] = {}
    for entry in entries:
        body = inside(entry, "body")
        n = count(body, "draw") or 0
        told = _draw(body)
        if told or "corrects" not in body:
            standing[n] = {"n": str(n), "told": told or "nothing", **_whose(record, entry)}
        else:
            standing.pop(n, None)
    last = inside(inside(entries[-1], "body"), "found")
    return {"draws": list(standing.values()), "sums": _sums(inside(last, "batch"), last)}


def _whose(record: Record, entry: Body) -> Told_:
    body = inside(entry, "body")
    said: Words = ""
    if "corrects" in body:
        said = joined("put right: ", stands(record, entry, "reason", text(body, "reason")))
    return {"by": stands(record, entry, "operator", text(body, "by")), "note": said}


_PARTS = {"weight": "weight", "volume": "volume", "pieces": "pieces", "left": "left over"}


def _draw(body: Body) -> str:
    """What was entered of a draw, in a line."""
    told = []
    for key, name in _PARTS.items():
        one = inside(body, key)
        typed = text(one, "typed")
        if text(one, "scale"):
            typed = f"{grams(text(one, 'g'))} on scale {text(one, 'scale')}"
        elif not typed and text(one, "ml"):
            typed = f"{text(one, 'ml')} mL"
        if typed:
            told.append(f"{name} {typed}")
    counts = {key: count(body, key) for key in ("containers", "portions")}
    told += [f"{n} {key}" for key, n in counts.items() if n is not None]
    cup, sample = inside(body, "cup"), inside(body, "sample")
    if cup:
        mix, product = (text(inside(cup, one), "typed") for one in ("mix", "product"))
        told.append(f"same cup: mix {mix}, product {product}")
    if sample:
        of, volume = (text(inside(sample, one), "typed") for one in ("weight", "volume"))
        told.append(f"mix measured: {of} in {volume}")
    return "; ".join(told)


def _sums(found: Body, whole: Body) -> list[list[str]]:
    """What all draws come to: names and values, what is not known left out."""
    loss = text(found, "loss_g")
    share = text(found, "loss_percent")
    pairs: Mapping[str, str] = {
        "Weighed in": grams(text(found, "in_g")),
        "Drawn": grams(text(found, "drawn_g")),
        "Left over": grams(text(found, "left_g")),
        "Loss": f"{grams(_minus(loss))} ({_minus(share)} %)" if loss else "",
        "Loss known to": f"\u00b1\u00a0{grams(unsure(text(found, 'loss_u_g')))}" if loss else "",
        "Balance": text(found, "told").replace(_NOT_KNOWN, ""),
        "Overrun": _percent(text(found, "overrun_percent")),
        "Overrun by cup": _percent(text(whole, "cup_overrun_percent")),
        "Portions": str(count(found, "portions") or ""),
        "Density of the mix": _density(whole),
    }
    return [[name, value] for name, value in pairs.items() if value]


def _minus(value: str) -> str:
    return value.replace("-", "\u2212")


def _percent(value: str) -> str:
    return f"{signed(value)}\u00a0%" if value else ""


def _density(found: Body) -> str:
    value = text(found, "density_g_ml")
    return f"{value}\u00a0g/mL, {text(found, 'density')}" if value else ""
