"""Telling: a review in words a person would say, and as the JSON of ``liveassist review --json``.

Words come first: how it went, what happens again and again, what to practise next. Nobody is scolded for a habit: a foot that
always comes a little before the click is told, and taken away before anything else is judged. What is called early, late,
steady or loose, and from where on, is in ``timing`` with the sources; times are told as whole milliseconds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from charts.pitch import simplest
from charts.route import RouteBar
from liveassist.rehearsal import service, silence
from liveassist.rehearsal.hands import Hand, Sung
from liveassist.rehearsal.matching import EXTRA, HELD, MISSED, RIGHT, WRONG
from liveassist.rehearsal.review import CLICK, Remark, Review
from liveassist.rehearsal.timing import NEAR, Timing

BIAS = 0.020
"""A section or a bar that is so many seconds early or late on the average is worth a word: of kick, snare and hi-hat
asynchrony is heard from 19 to 24 ms on, an early note from some 23, a late one from 28 (preprint jsg94, version 3, on OSF)."""
WAITS = 0.030
"""The first bar of a section this much later than the rest is waited for: of bass and guitar asynchrony is heard from 31 to 35
ms on (the same preprint)."""
DRIFTS = 0.005
"""A drift of less than half a per cent of the tempo is nobody's business: tempi are told apart from 1.5 to 3 per cent on (Drake
and Botte 1993), and half a per cent is a second in three minutes."""
LEADS = 0.010
"""A lead that is worth a word: the foot of professional drummers is so much ahead of the click (Fujii et al. 2011)."""
FEW = 5
"""So many right notes are wanted before anything is said of the timing: a choice of ours, no source."""
MOST = 4
"""So many places are named, and the rest counted."""
TIMES = {1: "once", 2: "twice", 3: "three times", 4: "four times", 5: "five times"}


def summary(review: Review) -> tuple[str, ...]:
    """A few sentences, the most telling first, and what to practise next as the last."""
    whole = review.whole
    hands = [*_left_hand(review), *_tune(review)]
    around = list(service.words(review.service, review.route)) if review.service is not None else []
    if whole is None:
        return (*hands, *around) or ("No pedal note of the chart was heard, so there is nothing to tell.",)
    found = [_overall(review, whole)]
    if whole.count >= FEW:
        found += [*_sections(review), *_entries(review), *_drift(whole), *_lead(review, whole)]
    found += silence.words(review.returns)
    found += _wrong(review)
    found += _missed(review)
    found += _extra(review)
    found += hands
    found += around
    found.append(practise(review))
    return tuple(found)


JUDGED = (
    "Excellent, good, acceptable, loose: an SD below 20, 35, 50 ms, and above; the split is our own. Musicians who tap to a "
    "click have 10 to 20 ms at 120 a minute, others twice that (Repp 2005, from memory); live trios 30 to 50 ms, and nobody "
    "hears them as uneven (Rasch 1979).",
    "Within 20 ms: which of two sounds comes first is heard from there on (Hirsh, in Watson 2004). Within 50 ms: the far end "
    "of what trios differ by.",
    "Lead: taps come 20 to 80 ms before a click, those of musicians 10 to 30 (Repp 2005, Aschersleben 2002, from memory), and "
    "the foot of professional drummers 10 (Fujii et al. 2011). It is taken away before anything is judged.",
    "A section early or late: from 20 ms on; in a groove an early note is heard from 23, a late one from 28 (preprint jsg94, "
    "version 3, on OSF). A section waited for: from 30 ms on.",
    "Drift: from half a per cent of the tempo on; tempi are told apart from 1.5 to 3 per cent on (Drake and Botte 1993).",
    "Clock, and hand and foot: Wing and Kristofferson 1973 (from memory); with a click a rough picture.",
)
"""What each judgement is measured by, for whoever reads the report."""


def practise(review: Review) -> str:
    """The one thing to do next."""
    if review.faults:
        bar = _most_faults(review)
        return f"Next: {bar_name(bar)} and the bar before it, slowly, until it is right three times running."
    if review.whole is not None and review.whole.count >= FEW and abs(review.whole.drift) >= DRIFTS:
        return (
            "Next: the whole song with the click falling out for some bars, to hear where you are when it comes back."
        )
    if review.worst:
        return f"Next: {bar_name(review.worst[0])} in a loop with the bar before it."
    return "Next: the same a little faster, or with the click on the first beat of the bar only."


def _most_faults(review: Review) -> RouteBar:
    """The written bar with the most wrong and missed notes; of several the one that went worst, else the first."""
    faults = Counter(review.route.bars[remark.bar].id for remark in review.of_kind(WRONG, MISSED))
    order = [*(bar.id for bar in review.worst), *(bar.id for bar in review.route.bars)]
    most = max(faults, key=lambda bar: (faults[bar], -order.index(bar)))
    return next(bar for bar in review.route.bars if bar.id == most)


def _overall(review: Review, whole: Timing) -> str:
    asked, right = review.asked, len(review.of_kind(RIGHT, HELD))
    notes = "Every pedal note right" if right == asked else f"{right} of {asked} pedal notes right"
    if whole.count < FEW:
        return f"{notes}. Too few to tell the timing."
    return f"{notes}. Timing {whole.band}: {_ms(whole.sd)} ms around your own middle, {whole.near:.0%} within 50 ms."


def _sections(review: Review) -> Iterator[str]:
    """Each section in a few words, as long as there are several."""
    if len(review.sections) < 2:
        return
    for name, figures in review.sections:
        if figures.count < 3:
            continue
        if abs(figures.mean) >= BIAS:
            yield f"{name}: {_ms(abs(figures.mean))} ms {_side(figures.mean)} on the average."
        elif figures.sd >= NEAR:
            yield f"{name}: loose, {_ms(figures.sd)} ms."
        elif figures.near == 1.0:
            yield f"{name} steady."


def _entries(review: Review) -> Iterator[str]:
    """Sections that are waited for, or rushed into: their first note every time."""
    route = review.route
    firsts: dict[str, list[float]] = {}
    seen: set[int] = set()
    for remark in review.remarks:
        bar = route.bars[remark.bar]
        if remark.judged is None or bar.step in seen or bar.index == 0:
            continue
        seen.add(bar.step)
        if bar.starts_section:
            firsts.setdefault(bar.section, []).append(remark.judged)
    for section, errors in firsts.items():
        least = min(errors, key=abs)
        if abs(least) >= WAITS and all((error > 0) == (least > 0) for error in errors):
            middle = sorted(errors)[len(errors) // 2]
            verb = "wait for" if middle > 0 else "rush into"
            again = ", every time" if len(errors) > 1 else ""
            yield f"You {verb} the {section}: {_ms(abs(middle))} ms {_side(middle)} on its first bar{again}."


def _drift(whole: Timing) -> Iterator[str]:
    if abs(whole.drift) >= DRIFTS:
        yield f"You {'slow down' if whole.drift > 0 else 'speed up'} against the click: {abs(whole.drift):.1%}."


def _lead(review: Review, whole: Timing) -> Iterator[str]:
    if review.reference != CLICK or abs(whole.drift) >= DRIFTS or abs(whole.lead) < LEADS:
        return
    if whole.lead < 0:
        yield f"Your feet lead the click by {_ms(-whole.lead)} ms, as feet do: no fault, and taken away before judging."
    else:
        yield f"Your feet come {_ms(whole.lead)} ms after the click throughout: taken away before judging."


def _wrong(review: Review) -> Iterator[str]:
    groups: dict[tuple[tuple[str, int], int, int], list[Remark]] = {}
    for remark in review.of_kind(WRONG):
        assert remark.played is not None and remark.written is not None
        key = (review.route.bars[remark.bar].id, remark.played % 12, remark.written)
        groups.setdefault(key, []).append(remark)
    for (_, played, bass), remarks in sorted(groups.items(), key=lambda group: -len(group[1])):
        bar = review.route.bars[remarks[0].bar]
        yield (
            f"Wrong pedal in {bar_name(bar)}{_again(remarks)} ({note_name(bar, played)} for {note_name(bar, bass)})."
        )


def _missed(review: Review) -> Iterator[str]:
    for bar, remarks in _by_bar(review, MISSED):
        yield f"No pedal in {bar_name(bar)}{_again(remarks)}."


def _extra(review: Review) -> Iterator[str]:
    extra = review.of_kind(EXTRA)
    if extra:
        kinds: dict[str, int] = {}
        for remark in extra:
            kinds[remark.what] = kinds.get(remark.what, 0) + 1
        told = ", ".join(f"{count} {what}" for what, count in sorted(kinds.items(), key=lambda kind: -kind[1]))
        yield f"{len(extra)} more pedal note{'s' if len(extra) > 1 else ''} than written: {told}."


def _left_hand(review: Review) -> Iterator[str]:
    hand = review.left
    if hand is None:
        return
    inside = 1.0 - len(hand.wrong) / hand.notes
    yield f"Left hand: {hand.met} of {hand.asked} changes met, {inside:.0%} of its notes of the chord."
    rhythm = hand.rhythm
    timed = "" if rhythm.timing is None else f", {_ms(rhythm.timing.sd)} ms around its own middle"
    own = f"; {rhythm.own} of its own" if rhythm.own else ""
    yield f"Against {rhythm.against}: {rhythm.together} of {rhythm.asked} attacks together{timed}{own}."
    if hand.missed:
        yield f"Changes that it missed: {_most(_change_name(review, change) for change in hand.missed)}."
    if hand.wrong:
        notes = (f"{_key_name(review, change, key)} in {_change_name(review, change)}" for change, key in hand.wrong)
        yield f"Not of the chord: {_most(notes)}."


def _tune(review: Review) -> Iterator[str]:
    tune = review.tune
    if tune is None:
        return
    timed = "" if tune.timing is None else f", {_ms(tune.timing.sd)} ms around its own middle"
    yield f"The tune: {tune.right} of {tune.asked} notes right{timed}."
    if tune.bars:
        yield f"Look at the tune in {_most(bar_name(review.route.bars[bar]) for bar in tune.bars)}."


def _most(names: Iterable[str]) -> str:
    """The names that come most often, with how often."""
    ranked = Counter(names).most_common()
    told = [name + _times(count) for name, count in ranked[:MOST]]
    more = len(ranked) - MOST
    return ", ".join(told) + (f" and {more} more" if more > 0 else "")


def _change_name(review: Review, change: int) -> str:
    written = review.route.changes[change]
    return f"{bar_name(review.route.bars[written.bar])} ({written.chord.shown})"


def _key_name(review: Review, change: int, key: int) -> str:
    return note_name(review.route.bars[review.route.changes[change].bar], key % 12)


def _by_bar(review: Review, kind: str) -> list[tuple[RouteBar, list[Remark]]]:
    groups: dict[tuple[str, int], list[Remark]] = {}
    for remark in review.of_kind(kind):
        groups.setdefault(review.route.bars[remark.bar].id, []).append(remark)
    ordered = sorted(groups.values(), key=lambda remarks: -len(remarks))
    return [(review.route.bars[remarks[0].bar], remarks) for remarks in ordered]


def _again(remarks: Sequence[Remark]) -> str:
    return _times(len(remarks))


def _times(count: int) -> str:
    return "" if count == 1 else " " + TIMES.get(count, f"{count} times")


def bar_name(bar: RouteBar) -> str:
    """A written bar, as one says it."""
    return f"{bar.section} bar {bar.number}" if bar.number else f"the pickup to {bar.section}"


def note_name(bar: RouteBar, pitch_class: int) -> str:
    """A pitch class as the key of a bar spells it."""
    return simplest(pitch_class, sharps=bar.key.sharps).shown


def _ms(seconds: float) -> int:
    return round(1000 * seconds)


def _side(error: float) -> str:
    return "late" if error > 0 else "early"


# -- figures to read --------------------------------------------------------------------------------------------------


def figures(review: Review) -> Iterator[str]:
    """A small table below the words."""
    if review.whole is None:
        return
    yield f"{'':<20}{'notes':>6}{'mean':>7}{'SD':>6}{'within 20':>11}{'50 ms':>7}"
    rows: Iterable[tuple[str, Timing]] = [
        ("whole", review.whole),
        *review.sections,
        *((f"beat {beat:g}", row) for beat, row in review.beats),
    ]
    for name, row in rows:
        yield f"{name:<20}{row.count:>6}{_ms(row.mean):>+7}{_ms(row.sd):>6}{row.close:>10.0%}{row.near:>8.0%}"
    if review.whole.clock is not None and review.whole.motor is not None:
        yield (
            f"clock {_ms(review.whole.clock)} ms, hand and foot {_ms(review.whole.motor)} ms (a rough split: it takes every "
            "interval to be timed anew)"
        )


# -- for programs -----------------------------------------------------------------------------------------------------


def as_json(review: Review) -> dict[str, Any]:
    """The object of ``liveassist review --json``. Times in milliseconds, positive late; ``at`` in seconds of the take."""
    return {
        "title": review.route.chart.title,
        "reference": review.reference,
        "asked": review.asked,
        "right": len(review.of_kind(RIGHT)),
        "held": len(review.of_kind(HELD)),
        **{kind: [_remark(review, one) for one in review.of_kind(kind)] for kind in (MISSED, WRONG, EXTRA)},
        "far": [_remark(review, one) for one in review.far],
        "timing": None if review.whole is None else _timing(review.whole),
        "sections": [{"section": name, **_timing(row)} for name, row in review.sections],
        "beats": [{"beat": beat, **_timing(row)} for beat, row in review.beats],
        "worst": [{"section": bar.section, "bar": bar.number} for bar in review.worst],
        "tempo": [[round(at, 3), round(bpm, 2)] for at, bpm in review.tempo],
        "nods": [{"at": round(at, 6), "nod": nod} for at, nod in review.nods],
        "returns": [
            {"at": round(one.at, 6), "off": round(1000 * one.off, 3), "bars": one.bars} for one in review.returns
        ],
        "left_hand": None if review.left is None else _hand(review, review.left),
        "tune": None if review.tune is None else _sung(review, review.tune),
        "service": None if review.service is None else _service(review, review.service),
        "notes": [_remark(review, one) for one in review.of_kind(RIGHT)],
        "words": list(summary(review)),
    }


def _remark(review: Review, remark: Remark) -> dict[str, Any]:
    bar, change = review.route.bars[remark.bar], review.route.changes[remark.change]
    told: dict[str, Any] = {
        "at": round(remark.at, 6),
        "section": bar.section,
        "pass": bar.pass_,
        "bar": bar.number,
        "beat": round(remark.beat, 4),
        "position": str(change.position),
        "change": change.index,
        "chord": change.chord.symbol,
    }
    if remark.written is not None:
        told["written"] = note_name(bar, remark.written)
    if remark.played is not None:
        told["played"], told["key"] = note_name(bar, remark.played % 12), remark.played
    if remark.error is not None:
        told["error"] = round(1000 * remark.error, 3)
    if remark.judged is not None:
        told["judged"] = round(1000 * remark.judged, 3)
    if remark.what:
        told["what"] = remark.what
    return told


def _place(review: Review, bar: int) -> dict[str, Any]:
    here = review.route.bars[bar]
    return {"section": here.section, "pass": here.pass_, "bar": here.number}


def _hand(review: Review, hand: Hand) -> dict[str, Any]:
    return {
        "asked": hand.asked,
        "met": hand.met,
        "notes": hand.notes,
        "rhythm": {
            "against": hand.rhythm.against,
            "asked": hand.rhythm.asked,
            "together": hand.rhythm.together,
            "own": hand.rhythm.own,
            "timing": None if hand.rhythm.timing is None else _timing(hand.rhythm.timing),
        },
        "missed": [{"change": change, **_place(review, review.route.changes[change].bar)} for change in hand.missed],
        "wrong": [
            {"change": change, "key": key, **_place(review, review.route.changes[change].bar)}
            for change, key in hand.wrong
        ],
    }


def _sung(review: Review, tune: Sung) -> dict[str, Any]:
    return {
        "asked": tune.asked,
        "right": tune.right,
        "faults": [_place(review, bar) for bar in tune.bars],
        "timing": None if tune.timing is None else _timing(tune.timing),
    }


def _service(review: Review, found: service.Service) -> dict[str, Any]:
    def stood(rows: Sequence[service.Stood]) -> list[dict[str, Any]]:
        return [{"at": round(one.at, 6), "seconds": round(one.seconds, 3), **_place(review, one.bar)} for one in rows]

    return {
        "tempi": [{"section": name, "pass": time, "bpm": round(bpm, 2)} for name, time, bpm in found.tempi],
        "holds": stood(found.holds),
        "vamps": stood(found.vamps),
        "moved": [
            {"at": round(one.at, 6), "from": _place(review, one.before), "to": _place(review, one.after)}
            for one in found.moved
        ],
        "doubts": found.doubts,
    }


def _timing(row: Timing) -> dict[str, Any]:
    def ms(seconds: float | None) -> float | None:
        return None if seconds is None else round(1000 * seconds, 3)

    return {
        "count": row.count,
        "mean": ms(row.mean),
        "sd": ms(row.sd),
        "median": ms(row.median),
        "median_absolute": ms(row.median_absolute),
        "within_20": round(row.close, 4),
        "within_50": round(row.near, 4),
        "drift_percent": round(100 * row.drift, 4),
        "lead": ms(row.lead),
        "steadiness": round(row.steadiness, 5),
        "clock": ms(row.clock),
        "motor": ms(row.motor),
        "autocorrelation": None if row.autocorrelation is None else round(row.autocorrelation, 4),
        "band": row.band,
    }
