"""What a sheet's readers leave open, settled: repeats without a beginning, brackets, the key.

Conventions (common practice, no source): a repeat that has no beginning goes back behind the repeat before it, or to the first
bar; to the bar behind a pickup where the bar before the sign is full. A repeat that does not say how often it is played is
played twice, or up to its highest ending. A bracket ends where its repeat ends, at a double bar, where the
page says so, and the last one at a heading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from charts.chord import Chord
from charts.exchange.sheet import Remark, SheetBar
from charts.key import Key
from charts.pitch import Spelling, simplest

UNTOLD = -1
"""A repeat that ends here and does not say how often it is played."""


def settled_repeats(bars: Sequence[SheetBar]) -> tuple[list[SheetBar], list[Remark]]:
    """The same bars with every repeat begun, ended and counted, and what was odd about them."""
    found = list(bars)
    remarks: list[Remark] = []
    since = 0
    opened: list[int] = []
    """Repeats that have begun and not ended, one inside the other."""
    for index, bar in enumerate(bars):
        if bar.opens_repeat:
            opened.append(index)
        if not bar.closes_repeat:
            continue
        later_ending = bool(bar.in_endings) and min(bar.in_endings) > 1
        if opened:
            opened.pop()
        elif not later_ending:
            start = _start_of(found, since, index)
            found[start] = replace(found[start], opens_repeat=True)
        since = index + 1 if not opened else since
        if later_ending:
            since = index + 1
    for start in opened:
        if not any(bar.endings for bar in bars[start:]):
            found[start] = replace(found[start], opens_repeat=False)
            remarks.append(Remark(bar=start + 1, message="a repeat begins here and ends nowhere; it is played once"))
    for index, bar in enumerate(found):
        if bar.closes_repeat == UNTOLD:
            found[index] = replace(bar, closes_repeat=_usual_plays(found, index))
    return found, remarks


def _usual_plays(bars: Sequence[SheetBar], index: int) -> int:
    """How often a repeat is played that does not say: twice, or up to its highest ending."""
    if not bars[index].in_endings:
        return 2
    start = max((i for i in range(index + 1) if bars[i].opens_repeat), default=0)
    end = min((i for i in range(index + 1, len(bars)) if bars[i].opens_repeat), default=len(bars))
    return max(2, *(time for bar in bars[start:end] for time in bar.endings))


def _start_of(bars: Sequence[SheetBar], since: int, close: int) -> int:
    """Where a repeat without a beginning begins."""
    first = bars[since]
    pickup = since == 0 and first.length < first.meter.bar_length
    full = bars[close].length >= bars[close].meter.bar_length
    return since + 1 if pickup and full and close > since else since


def bracketed(bars: Sequence[SheetBar], ends: Sequence[bool]) -> list[SheetBar]:
    """The same bars with every bracket drawn from its beginning to its end. ``ends`` says where the page ends one."""
    found: list[SheetBar] = []
    bracket: tuple[int, ...] = ()
    for bar, last in zip(bars, ends, strict=True):
        over = bar.opens_repeat or (bar.heading and bracket and min(bracket) > 1)
        bracket = bar.endings or (() if over else bracket)
        found.append(replace(bar, in_endings=bracket))
        if last or bar.closes_repeat or bar.barline != "|":
            bracket = ()
    return found


# -- key ------------------------------------------------------------------------------------------------------------

_MAJOR = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
_MINOR = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)
"""How well each pitch class fits a key: the probe-tone profiles of Krumhansl and Kessler 1982 (from memory)."""


def key_of_signature(fifths: int, bars: Sequence[SheetBar]) -> Key:
    """The key that a signature means where the page does not say major or minor: minor where the music ends so."""
    tonic = Spelling("C")
    for _ in range(abs(fifths)):
        tonic = tonic.transposed(4, 7) if fifths > 0 else tonic.transposed(3, 5)
    relative = tonic.transposed(5, 9)
    last = last_chord(bars)
    if last is not None and last.root is not None:
        minor = (
            last.root.pitch_class == relative.pitch_class and last.quality.startswith("m") and last.tone(3) is not None
        )
        return Key(relative, minor=True) if minor and last.quality[:3] != "maj" else Key(tonic)
    weights = _weights(bars)
    return Key(relative, minor=True) if _fit(weights, relative, minor=True) > _fit(weights, tonic) else Key(tonic)


def guessed_key(bars: Sequence[SheetBar]) -> Key:
    """The key that fits chords and notes best; the last chord's root counts for much."""
    weights = _weights(bars)
    last = last_chord(bars)
    keys = []
    for pitch_class in range(12):
        for minor in (False, True):
            names = {simplest(pitch_class, sharps=sharps) for sharps in (True, False)}
            keys.append(min((Key(name, minor) for name in names), key=lambda key: (abs(key.fifths), key.fifths)))
    bonus = last.root.pitch_class if last is not None and last.root is not None else -1
    return max(keys, key=lambda key: _fit(weights, key.tonic, key.minor) + 0.2 * (key.tonic.pitch_class == bonus))


def last_chord(bars: Sequence[SheetBar]) -> Chord | None:
    return next((each.chord for bar in reversed(bars) for each in reversed(bar.chords) if each.chord.root), None)


def _weights(bars: Sequence[SheetBar]) -> list[float]:
    weights = [0.0] * 12
    for bar in bars:
        for note in bar.voices or bar.notes:
            weights[note.pitch % 12] += float(note.length)
        for each in bar.chords:
            for pitch_class in each.chord.pitch_classes:
                weights[pitch_class] += 1.0
            if each.chord.root is not None:
                weights[each.chord.root.pitch_class] += 1.0
    return weights


def _fit(weights: Sequence[float], tonic: Spelling, minor: bool = False) -> float:
    """The correlation of weights with a key's profile."""
    profile = _MINOR if minor else _MAJOR
    turned = [weights[(tonic.pitch_class + k) % 12] for k in range(12)]
    mean, middle = sum(turned) / 12, sum(profile) / 12
    across = sum((a - mean) * (b - middle) for a, b in zip(turned, profile, strict=True))
    size = (sum((a - mean) ** 2 for a in turned) * sum((b - middle) ** 2 for b in profile)) ** 0.5
    return across / size if size else 0.0
