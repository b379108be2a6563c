"""Transposing a chart: keys, chords and melody move by one interval, spelled for the new key.

The interval is the one between the old tonic and the new, letters and semitones alike, so D to E flat is a minor
second and F sharp in D becomes G. The new key has the fewest accidentals. A section with a key of its own moves by
the same interval, unless that would need a signature of more than seven sharps or flats: then it goes to the simplest
key, by its own interval.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from charts.chart import Bar, Chart, Section
from charts.chord import Chord, read_chord
from charts.key import MAJOR_SCALE, Key
from charts.pitch import LETTERS, NATURAL, read_spelling, simplest
from charts.writing import write_chart


@dataclass(frozen=True, slots=True)
class Interval:
    """Letter steps and semitones, both up, both negative (or nothing) down."""

    steps: int
    semitones: int

    def chord(self, chord: Chord) -> Chord:
        return chord if chord.root is None else chord.transposed(self.steps, self.semitones)

    def key(self, key: Key) -> Key:
        return Key(key.tonic.transposed(self.steps, self.semitones), key.minor)


def interval(one: Key, other: Key, semitones: int) -> Interval:
    """From one key's tonic to the other's, which is so many semitones away."""
    steps = one.steps_to(other)
    octaves = round((semitones - MAJOR_SCALE[steps]) / 12)
    return Interval(steps + 7 * octaves, semitones)


def transposed(chart: Chart, semitones: int) -> Chart:
    """The same song so many semitones up (or down, negative). Its text is written anew.

    Raises ValueError where ``write_chart`` cannot write the chart.
    """
    key = chart.key.lifted(semitones)
    home = interval(chart.key, key, semitones)
    moved = replace(chart, key=key, sections=tuple(_section(section, home) for section in chart.sections))
    return replace(moved, text=write_chart(moved))


def _section(section: Section, home: Interval) -> Section:
    key, own = section_moved(section, home)
    return replace(section, key=key, bars=tuple(_bar(bar, own) for bar in section.bars))


def section_moved(section: Section, home: Interval) -> tuple[Key | None, Interval]:
    """The key of its own that a section then has, None where it has none, and the interval by which its music moves."""
    if section.key is None:
        return None, home
    key = home.key(section.key)
    if key.usual:
        return key, home
    key = section.key.lifted(home.semitones)
    return key, interval(section.key, key, home.semitones)


def _bar(bar: Bar, by: Interval) -> Bar:
    changes = tuple(replace(change, chord=by.chord(change.chord)) for change in bar.changes)
    return replace(bar, changes=changes, melody=transposed_melody(bar.melody, by))


_TUNE = re.compile(
    r"""(?P<field>^(?!K:)[A-Za-z+]:(?![|:]).*$|\[(?!K:)[A-Za-z]:[^\]\n]*\]) | (?P<comment>%.*$)
        | (?P<decoration>![^!\n]*!|\+[^+\n]*\+)
        | (?P<keyed>(?:^|\[)K:\s*)(?P<key>[^\]\n]*) | "(?P<quoted>[^"\n]*)"
        | (?P<accidental>\^\^|\^|__|_|=)?(?P<letter>[A-Ga-g])(?P<octave>[,']*)""",
    re.VERBOSE | re.MULTILINE,
)
_ACCIDENTALS = {"": 0, "=": 0, "^": 1, "^^": 2, "_": -1, "__": -2}
_WRITTEN = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}


def transposed_melody(tune: str, by: Interval) -> str:
    """An ABC tune body (ABC standard 2.1) up or down by an interval.

    The key signature moves by the same interval, so a note without an accidental only changes its letter, and one with an
    accidental keeps its distance from the letter's place in the key. Chord symbols in quotes and inline keys move, too.
    """

    def move(match: re.Match[str]) -> str:
        if match["letter"]:
            return _moved_note(match["accidental"], match["letter"], match["octave"], by)
        if match["key"] is not None:
            return match["keyed"] + _moved_key(match["key"], by)
        if match["quoted"] is not None:
            return f'"{_moved_symbol(match["quoted"], by)}"'
        return match[0]

    return _TUNE.sub(move, tune)


def _moved_note(accidental: str | None, letter: str, marks: str, by: Interval) -> str:
    # Steps above C of the octave that capital letters name, from middle C up.
    step = LETTERS.index(letter.upper()) + 7 * letter.islower() + 7 * (marks.count("'") - marks.count(","))
    target = step + by.steps
    written = ""
    if accidental is not None:
        sounding = _semitones(step) + _ACCIDENTALS[accidental] + by.semitones
        alter = sounding - _semitones(target)
        if abs(alter) > 2:
            name = simplest(sounding % 12, sharps=alter > 0)
            target = LETTERS.index(name.letter) + 7 * ((sounding - name.alter) // 12)
            alter = name.alter
        written = _WRITTEN[alter]
    octave, index = divmod(target, 7)
    name_ = LETTERS[index]
    return written + (name_.lower() + "'" * (octave - 1) if octave > 0 else name_ + "," * -octave)


def _semitones(step: int) -> int:
    octave, index = divmod(step, 7)
    return 12 * octave + NATURAL[LETTERS[index]]


def _moved_key(text: str, by: Interval) -> str:
    read = read_spelling(text)
    if read is None:
        return text
    tonic, mode = read
    return by.key(Key(tonic)).name + mode


def _moved_symbol(text: str, by: Interval) -> str:
    try:
        return by.chord(read_chord(text)).symbol
    except ValueError:
        return text
