"""One harmony of a MusicXML score, read into a chord.

A kind that the schema has is trusted; a kind that it has not, or ``other``, is read from the printed text behind the root.
Where degrees come to something that no symbol names, the printed text is tried, and then the kind alone, which is told.
"""

from __future__ import annotations

from dataclasses import replace
from xml.etree.ElementTree import Element

from charts.chord import NO_CHORD, Chord, read_chord
from charts.exchange.kinds import BEYOND, KINDS, OTHER_NAMES, Degree, chord_of, with_degrees
from charts.key import Key
from charts.pitch import Spelling
from charts.qualities import ToneAt

_ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6, "VII": 7}


def chord_of_harmony(harmony: Element, key: Key | None) -> tuple[Chord | None, str]:
    """The chord, None where there is none to be read, and what is to be told about it (empty: understood)."""
    kind = harmony.find("kind")
    value = (kind.text or "").strip() if kind is not None else ""
    text = (kind.get("text") or "").strip() if kind is not None else ""
    root = _note(harmony, "root") or _numeral(harmony, key)
    if value == "none" or (root is None and text.casefold().replace(" ", "") in ("n.c.", "nc", "n.c")):
        return NO_CHORD, ""
    if root is None:
        return _from_text(text, value)
    told = ""
    if len(harmony.findall("root")) > 1:
        told = "two chords are stacked here; the first is taken"
    bass = _note(harmony, "bass")
    slash = None if bass == root else bass
    chord = _of_kind(root, slash, value, text, _degrees(harmony))
    if chord is not None and bass is None:
        inversion = round(number(harmony.findtext("inversion")))
        chord, odd = _inverted(chord, inversion)
        told = told or odd
    if chord is not None:
        return chord, told
    tones = _tones(value) or KINDS["major"]
    shown = f"{root.name}{text or value}"
    plain = chord_of(root, tones, slash) or Chord(root, slash=slash)
    return plain, f'"{shown}" with its degrees is no chord I know; written as {plain.symbol}'


def _inverted(chord: Chord, inversion: int) -> tuple[Chord, str]:
    """The chord with its third (1), fifth (2), seventh (3) ... in the bass, and what is to be told."""
    if inversion <= 0 or chord.slash is not None:
        return chord, ""
    tone = chord.tone(2 * inversion + 1)
    if tone is None:
        return chord, f"{chord.symbol} has no inversion {inversion}; it is written without"
    return replace(chord, slash=tone.spelling), ""


def _of_kind(root: Spelling, slash: Spelling | None, value: str, text: str, degrees: list[Degree]) -> Chord | None:
    tones = _tones(value)
    if value == "other" and not degrees:
        return _written(root, text, slash) if text else None
    if value == "other":
        # Made of added degrees alone; exporters also mean a triad by it.
        for base in ((1, 0),), KINDS["major"]:
            chord = _altered(root, slash, base, degrees)
            if chord is not None:
                return chord
        return _written(root, text, slash)
    if tones is None:
        return _written(root, text or value, slash) or (
            _altered(root, slash, KINDS["major"], degrees) if not value else None
        )
    return _altered(root, slash, tones, degrees) or (_written(root, text, slash) if text else None)


def _altered(root: Spelling, slash: Spelling | None, tones: tuple[ToneAt, ...], degrees: list[Degree]) -> Chord | None:
    """The chord with its degrees; an added altered fifth or ninth may be meant to take the plain one's place."""
    chord = chord_of(root, with_degrees(tones, degrees), slash)
    if chord is None and degrees:
        meant = [
            replace(each, type="alter") if each.type == "add" and each.value == 5 and each.alter else each
            for each in degrees
        ]
        chord = chord_of(root, with_degrees(tones, meant), slash)
    return chord


def _written(root: Spelling, text: str, slash: Spelling | None) -> Chord | None:
    """The chord that a text behind the root names; a text may name the whole chord, too."""
    for symbol in (root.name + text, text):
        try:
            chord = read_chord(symbol)
        except ValueError:
            continue
        if chord.root == root:
            return Chord(root, chord.quality, chord.alterations, chord.slash or slash)
    return None


def _from_text(text: str, value: str) -> tuple[Chord | None, str]:
    """A harmony without a root: its text may be a whole symbol."""
    for symbol in filter(None, (text, value)):
        try:
            return read_chord(symbol), ""
        except ValueError:
            continue
    return None, f'a harmony without a root ("{text or value}") cannot be read'


def _note(harmony: Element, name: str) -> Spelling | None:
    element = harmony.find(name)
    if element is None:
        return None
    step = (element.findtext(f"{name}-step") or "").strip().upper()[:1]
    alter = round(number(element.findtext(f"{name}-alter")))
    return Spelling(step, alter) if step in "CDEFGAB" and step and abs(alter) <= 2 else None


def _numeral(harmony: Element, key: Key | None) -> Spelling | None:
    """The root that a numeral or the name of a function means in the key."""
    if key is None:
        return None
    numeral = harmony.find("numeral")
    if numeral is not None:
        degree = round(number(numeral.findtext("numeral-root")))
        alter = round(number(numeral.findtext("numeral-alter")))
        return key.degree(degree, alter) if 1 <= degree <= 7 and abs(alter) <= 2 else None
    function = (harmony.findtext("function") or "").strip()
    degree = _ROMAN.get(function.upper(), 0)
    if not degree:
        return None
    lowered = key.minor and degree in (3, 6, 7)
    return key.degree(degree, -1 if lowered else 0)


def _tones(kind: str) -> tuple[ToneAt, ...] | None:
    """The tones of a kind, capitals aside; None where it is none."""
    low = kind.casefold()
    return KINDS.get(kind) or KINDS.get(OTHER_NAMES.get(low, low)) or KINDS.get(kind.capitalize()) or BEYOND.get(low)


def _degrees(harmony: Element) -> list[Degree]:
    found = []
    for degree in harmony.findall("degree"):
        value = round(number(degree.findtext("degree-value")))
        what = (degree.findtext("degree-type") or "add").strip()
        if 1 <= value <= 13:
            found.append(Degree(value, round(number(degree.findtext("degree-alter"))), what))
    return found


def number(text: str | None) -> float:
    """A number in a score, 0 where there is none."""
    try:
        value = float((text or "0").strip())
    except ValueError:
        return 0.0
    return value if abs(value) < 1e6 else 0.0
