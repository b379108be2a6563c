"""A feel in words: its cells written out over counted beats, its rules, and what is odd about it though it can be played.

A count is written as it is spoken: the number on the beat, ``&`` on the half, ``e`` and ``a`` on the quarters of a simple beat.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from charts.meter import Meter, read_meter
from liveassist.arranging.arrangement import FULLNESS
from liveassist.arranging.feel import (
    ANY,
    ATTACK,
    BEAT,
    CHORD,
    ENDINGS,
    GO_ON,
    HELD,
    LIFT,
    LIGHT,
    PLAIN,
    QUARTERS,
    RITARDS,
    STRONG,
    TOUCHES,
    Feel,
)
from liveassist.arranging.swing import EVEN
from liveassist.arranging.touch import least_spacing_seconds

SHOWN = {STRONG: "X", PLAIN: "x", LIGHT: "o"}
LEGEND = "X strong (every voice, longer)   x plain (every voice)   o light (fewer voices)   - held on   . rest"
BROKEN_LEGEND = "1 to 5: that voice of the chord alone, from the lowest"
TEMPI = (60, 92, 120, 140, 160, 200, 240, 300)
"""Pairs a minute at which the swing is told."""
USUAL = {Fraction(1, 2): 168.0, Fraction(1): 92.0, Fraction(3, 2): 56.0, Fraction(2): 72.0, Fraction(3): 40.0}
"""A usual tempo in counted beats a minute, by how long the beat is (common practice, no source)."""
LABEL = 18
"""Columns before the signs."""
NAMES = {1: "1, bare", 2: "2", 3: "3", 4: "4, full"}
_SPOKEN = {Fraction(1, 4): "e", Fraction(1, 2): "&", Fraction(3, 4): "a"}


def explained(feel: Feel) -> list[str]:
    """A feel in words, line by line."""
    lines = [f"{feel.name}: {feel.about}", _fits(feel), ""]
    if feel.held:
        lines += ["One attack for each chord, wherever it stands, held until the next."]
    else:
        lines += _cells(feel, shown_meter(feel))
    rules = {"voices": _voices(feel), "touch": _touch(feel)}
    if not feel.held:
        rules |= {"swing": _swing(feel), "section's end": _ending(feel), "ritard": _ritard(feel)}
    rules["variety"] = "small variations where bars come round again" if feel.variety else "none: always alike"
    return [*lines, "", *(f"{label:<{LABEL}}{text}" for label, text in rules.items())]


def shown_meter(feel: Feel) -> Meter:
    """The meter in which a feel is shown: the first it names, or 4/4."""
    return read_meter("4/4" if ANY in feel.meters else feel.meters[0])


def usual_tempo(meter: Meter) -> float:
    """A usual tempo in counted beats a minute."""
    return USUAL.get(meter.counted_beat, USUAL[Fraction(1)])


def _fits(feel: Feel) -> str:
    meters = "any meter" if ANY in feel.meters else _listed(feel.meters)
    default = f" Charts in {_listed(feel.default)} that name no feel get it." if feel.default else ""
    return f"Fits {meters}.{default}"


def _listed(words: tuple[str, ...]) -> str:
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def _cells(feel: Feel, meter: Meter) -> Iterator[str]:
    """The signs of a bar at each fullness, of a section's last bar and of a ritard, under the counted beats."""
    step = feel.step(meter)
    size = int(meter.bar_length / step)
    wide = 4 if size <= 12 else 3
    yield " " * LABEL + "".join(f"{_spoken(number * step, meter):<{wide}}" for number in range(size)).rstrip()
    rows = {f"fullness {NAMES[level]}": (feel, level, False) for level in FULLNESS}
    if feel.ending not in ENDINGS:
        rows["section's end"] = (feel, FULLNESS[1], True)
    if feel.ritard not in RITARDS:
        rows["ritard"] = (feel.slowed(), FULLNESS[1], False)
    for label, (shown, level, last) in rows.items():
        signs = _signs(shown, meter, level, last=last)
        yield f"{label:<{LABEL}}" + "".join(f"{sign:<{wide}}" for sign in signs).rstrip()
    yield ""
    yield LEGEND
    if feel.broken:
        yield BROKEN_LEGEND


def _signs(feel: Feel, meter: Meter, level: int, *, last: bool) -> Iterator[str]:
    for number, sign in enumerate(feel.signs(meter, level, last=last)):
        place = number % len(feel.weight)
        if sign != ATTACK:
            yield sign
        elif feel.broken and feel.broken[place] != CHORD:
            yield str(min(int(feel.broken[place]), feel.rows[level].voices))
        else:
            yield SHOWN[STRONG if feel.grid == BEAT and number == 0 else feel.weight[place]]


def _spoken(place: Fraction, meter: Meter) -> str:
    beat, within = divmod(place / meter.counted_beat, 1)
    return str(beat + 1) if not within else "" if meter.compound else _SPOKEN.get(within, "")


def _voices(feel: Feel) -> str:
    several = [
        f"{row.voices}" + (f" ({row.light} light)" if row.light < row.voices else "") for row in feel.rows.values()
    ]
    return ", ".join(several) + " for fullness 1 to 4"


def _touch(feel: Feel) -> str:
    return (
        f"{feel.touch}: {TOUCHES[feel.touch] / 10:g} % of what is written, less where a key must come up to speak again"
    )


def ratio_in_words(ratio: Fraction) -> str:
    return "even" if ratio == EVEN else f"{float(ratio):.2g}:1"


def _swing(feel: Feel) -> str:
    if feel.swing is not None:
        return "none: even notes" if feel.swing == EVEN else f"{ratio_in_words(feel.swing)} at any tempo"
    meter = shown_meter(feel)
    told = [(bpm, ratio_in_words(feel.ratio(meter, float(bpm * meter.counted_beat)))) for bpm in TEMPI]
    return "by tempo, in beats a minute: " + ", ".join(f"{bpm} {ratio}" for bpm, ratio in told)


def _ending(feel: Feel) -> str:
    words = {
        GO_ON: "as any other bar",
        LIFT: "its last chord comes up half a beat early",
    }
    return words.get(feel.ending, "a cell of its own, from fullness 2 up")


def _ritard(feel: Feel) -> str:
    words = {
        QUARTERS: "a chord on each counted beat, where there were more",
        HELD: "one attack for each chord, held",
        GO_ON: "as any other bar",
    }
    return words.get(feel.ritard, "a cell of its own")


# -- what is odd ----------------------------------------------------------------------------------------------------


def remarks(feel: Feel, known: Mapping[str, Feel], room: float) -> list[str]:
    """What is worth a look though it can be played, each with its field.

    Args:
        feel: the one that was read.
        known: the feels that come with the tool.
        room: reverberation in seconds for which the figure is judged.
    """
    found = list(_taken(feel, known))
    if not feel.held:
        found += [*_thinner(feel), *_unheard(feel), *_crowded(feel, room)]
    return found


def _taken(feel: Feel, known: Mapping[str, Feel]) -> Iterator[str]:
    if feel.name in known:
        yield f'name: it is played instead of the "{feel.name}" that comes with the tool'
    for meter in feel.default:
        before = next(
            (other.name for other in known.values() if meter in other.default and other.name != feel.name), ""
        )
        if before:
            yield f'default: charts in {meter} that name no feel get it instead of "{before}"'


def _thinner(feel: Feel) -> Iterator[str]:
    for level in FULLNESS[1:]:
        row, before = feel.rows[level], feel.rows[level - 1]
        if row.cell.count(ATTACK) < before.cell.count(ATTACK):
            yield f"fullness.{level}: it has fewer attacks than fullness {level - 1}"
        if row.voices < before.voices:
            yield f"fullness.{level}.voices: {row.voices} are fewer than at fullness {level - 1}"


def _unheard(feel: Feel) -> Iterator[str]:
    highest = max((int(sign) for sign in feel.broken if sign != CHORD), default=0)
    most = feel.rows[FULLNESS[-1]].voices
    if highest > most:
        yield f"broken: voice {highest} is never there; at its fullest a chord has {most}"
    if feel.ending == feel.rows[FULLNESS[1]].cell:
        yield "ending: it is what the bar has anyway at fullness 2"
    for name in feel.meters:
        if feel.swing != EVEN and name != ANY and read_meter(name).compound:
            yield f"swing: in {name} the swung pairs cross the beats; its thirds swing by themselves"


def _crowded(feel: Feel, room: float) -> Iterator[str]:
    """Where a room would leave attacks out at a usual tempo."""
    meter = shown_meter(feel)
    beats = usual_tempo(meter)
    quarter_bpm = beats * float(meter.counted_beat)
    least, told = least_spacing_seconds(room), 0.0
    for level in FULLNESS:
        places = [attack.offset for attack in feel.attacks(meter, level, quarter_bpm=quarter_bpm)]
        gaps = [
            after - before for before, after in zip(places, [*places[1:], places[0] + meter.bar_length], strict=True)
        ]
        nearest = float(min(gaps)) * 60 / quarter_bpm
        if nearest < least - 1e-9 and nearest != told:
            told = nearest
            yield (
                f"fullness.{level}: at {beats:g} beats a minute attacks come {nearest * 1000:.0f} ms apart; a room of "
                f"{room:g} s carries {least * 1000:.0f} ms, so there the lighter ones are left out, here and fuller"
            )


def names_in_columns(feels: Mapping[str, Feel], own: Mapping[str, object]) -> list[str]:
    """The list of feels: name, meters, what it is; the player's own first and marked."""
    rows = []
    for feel in feels.values():
        meters = " ".join(feel.meters)
        yours = " (yours)" if feel.name in own else ""
        rows.append((feel.name, meters, feel.about + yours))
    wide = max(len(row[0]) for row in rows) + 2
    middle = max(len(row[1]) for row in rows) + 2
    return [f"{name:<{wide}}{meters:<{middle}}{about}" for name, meters, about in rows]
