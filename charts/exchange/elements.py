"""The elements of MusicXML 4.0 that lead sheet and organ score are made of, each with its parts in the schema's order.

Durations and offsets are whole numbers of the score's divisions. What is empty, none or nought is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from xml.etree.ElementTree import Element

from charts.chord import Chord
from charts.exchange.kinds import kind_of
from charts.key import Key
from charts.meter import Meter
from charts.pitch import Spelling

TYPES = {
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
}
"""Names of the plain note values in quarter notes, the longest first."""
_BAR_STYLES = {"||": "light-light", "|]": "light-heavy"}

Pitch = tuple[Spelling, int]
"""A note's name and its octave: middle C is C4, and the B sharp below it B3."""
Lyric = tuple[int, str, str]
"""Verse, ``single``, ``begin``, ``middle`` or ``end`` of a word, and the syllable."""


def element(tag: str, content: object = None, /, **attributes: str) -> Element:
    """A new element; underscores in attributes stand for hyphens."""
    made = Element(tag, {name.replace("_", "-"): value for name, value in attributes.items()})
    if content is not None:
        made.text = str(content)
    return made


def child(parent: Element, tag: str, content: object = None, /, **attributes: str) -> Element:
    """A new element inside another."""
    made = element(tag, content, **attributes)
    parent.append(made)
    return made


# -- what holds from a bar on ---------------------------------------------------------------------------------------


def write_key(attributes: Element, key: Key) -> None:
    signature = child(attributes, "key")
    child(signature, "fifths", key.fifths)
    child(signature, "mode", "minor" if key.minor else "major")


def write_time(attributes: Element, meter: Meter) -> None:
    time = child(attributes, "time")
    child(time, "beats", meter.beats)
    child(time, "beat-type", meter.unit)


def write_clef(attributes: Element, sign: str, line: int) -> None:
    clef = child(attributes, "clef")
    child(clef, "sign", sign)
    child(clef, "line", line)


# -- notes ----------------------------------------------------------------------------------------------------------


def write_note(
    measure: Element,
    duration: int,
    *,
    pitch: Pitch | None = None,
    in_chord: bool = False,
    whole_bar: bool = False,
    ties: Iterable[str] = (),
    voice: int = 1,
    type: str = "",
    dots: int = 0,
    accidental: str | None = None,
    tuplet: tuple[int, int] | None = None,
    slash: bool = False,
    beams: Iterable[str] = (),
    notations: Iterable[Element] = (),
    lyrics: Iterable[Lyric] = (),
) -> None:
    """One note, or a rest where there is no ``pitch``.

    Args:
        in_chord: it sounds with the note before.
        whole_bar: the rest fills its bar.
        ties: ``stop`` for a tie that ends here, ``start`` for one that begins.
        type: a name from ``TYPES``.
        tuplet: how many notes stand for how many.
        slash: a slash for its head: rhythm, no pitch meant.
        beams: from the outside in.
        notations: beside the ties.
    """
    note = child(measure, "note")
    if in_chord:
        child(note, "chord")
    if pitch is None:
        child(note, "rest", **({"measure": "yes"} if whole_bar else {}))
    else:
        spelling, octave = pitch
        sounding = child(note, "pitch")
        child(sounding, "step", spelling.letter)
        if spelling.alter:
            child(sounding, "alter", spelling.alter)
        child(sounding, "octave", octave)
    child(note, "duration", duration)
    ties = tuple(ties)
    for tie in ties:
        child(note, "tie", type=tie)
    child(note, "voice", voice)
    if type:
        child(note, "type", type)
    for _ in range(dots):
        child(note, "dot")
    if accidental:
        child(note, "accidental", accidental)
    if tuplet:
        modification = child(note, "time-modification")
        child(modification, "actual-notes", tuplet[0])
        child(modification, "normal-notes", tuplet[1])
    if slash:
        child(note, "notehead", "slash")
    for level, beam in enumerate(beams, start=1):
        child(note, "beam", beam, number=str(level))
    written = [*(element("tied", type=tie) for tie in ties), *notations]
    if written:
        child(note, "notations").extend(written)
    for verse, syllabic, text in lyrics:
        lyric = child(note, "lyric", number=str(verse))
        child(lyric, "syllabic", syllabic)
        child(lyric, "text", text)


# -- what stands above and below -----------------------------------------------------------------------------------


def write_harmony(
    measure: Element, chord: Chord, printed: str, *, offset: int = 0, degrees: bool = True, **attributes: str
) -> None:
    """A chord symbol: ``printed`` is its text behind the root. Without ``degrees`` the kind alone says what it is."""
    harmony = child(measure, "harmony", **attributes)
    kind, differing = kind_of(chord)
    if chord.root is None:
        child(child(harmony, "root"), "root-step", "C", text="")
        child(harmony, "kind", kind, text="N.C.")
    else:
        _write_named(harmony, "root", chord.root)
        child(harmony, "kind", kind, text=printed)
        if chord.slash is not None:
            _write_named(harmony, "bass", chord.slash)
        for each in differing if degrees else ():
            degree = child(harmony, "degree", print_object="no")
            child(degree, "degree-value", each.value)
            child(degree, "degree-alter", each.alter)
            child(degree, "degree-type", each.type)
    if offset:
        child(harmony, "offset", offset)


def _write_named(harmony: Element, tag: str, name: Spelling) -> None:
    named = child(harmony, tag)
    child(named, f"{tag}-step", name.letter)
    if name.alter:
        child(named, f"{tag}-alter", name.alter)


def write_direction(
    measure: Element,
    *drawn: Element,
    placement: str = "above",
    offset: int = 0,
    sound: Mapping[str, str] | None = None,
) -> None:
    """Signs and words, and what a program that plays the page must know of them."""
    direction = child(measure, "direction", placement=placement)
    for each in drawn:
        child(direction, "direction-type").append(each)
    if offset:
        child(direction, "offset", offset)
    if sound:
        child(direction, "sound", **sound)


def metronome(unit: Fraction, dots: int, per_minute: str, **attributes: str) -> Element:
    """The metronome's mark: ``unit`` is a plain value of ``TYPES``."""
    mark = element("metronome", **attributes)
    child(mark, "beat-unit", TYPES[unit])
    for _ in range(dots):
        child(mark, "beat-unit-dot")
    child(mark, "per-minute", per_minute)
    return mark


# -- barlines -------------------------------------------------------------------------------------------------------


def write_left_barline(measure: Element, *, opens_repeat: bool, ending: Element | None) -> None:
    """Where a repeat or an ending begins."""
    if opens_repeat or ending is not None:
        repeat = element("repeat", direction="forward") if opens_repeat else None
        _write_barline(measure, "left", "heavy-light" if opens_repeat else "", ending, repeat)


def write_right_barline(measure: Element, barline: str, *, ending: Element | None, repeat: Element | None) -> None:
    """Where a repeat or an ending ends, or the line is no plain one: ``barline`` as in a chart."""
    style = "light-heavy" if repeat is not None else _BAR_STYLES.get(barline, "")
    if style or ending is not None:
        _write_barline(measure, "right", style, ending, repeat)


def backward(times: int = 0) -> Element:
    """The end of a repeat; ``times`` where they are to be told."""
    return element("repeat", direction="backward", **({"times": str(times)} if times else {}))


def _write_barline(measure: Element, location: str, style: str, ending: Element | None, repeat: Element | None) -> None:
    barline = child(measure, "barline", location=location)
    if style:
        child(barline, "bar-style", style)
    barline.extend(each for each in (ending, repeat) if each is not None)
