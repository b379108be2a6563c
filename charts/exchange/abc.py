"""ABC (standard 2.1), read into sheets: one for each tune of a file.

Read: the header's fields, parts (``P:``) and their order, chord symbols in quotes, repeats, endings and signs, changes of key,
meter and tempo in the line or between lines, aligned words (``w:``), several voices (the first is the tune). Here a file is
divided into tunes, a tune into header (``abc_header``) and body (``abc_body``), and what both say is put together.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from charts.errors import ChartError
from charts.exchange.abc_body import Body, Voice
from charts.exchange.abc_header import ACCIDENTALS_HOLD, FIELD, Header, Remarks, order_of
from charts.exchange.files import decoded
from charts.exchange.headings import section_name
from charts.exchange.settling import bracketed, guessed_key, settled_repeats
from charts.exchange.sheet import Remark, Sheet, SheetBar, SheetChord

MOST_TUNES = 5000
LONGEST_LINE = 5000
"""Characters."""


def read_abc(data: bytes, source: str) -> list[Sheet]:
    """The tunes of an ABC file. Raises ChartError where there are none."""
    text = re.sub(r"\r\n?", "\n", decoded(data)).replace("\0", "")
    stray: list[str] = []
    sheets = [_sheet(lines, common) for lines, common in _tunes(text, stray)]
    if not sheets:
        raise ChartError.at(0, 0, "there is no tune in this; a tune in ABC begins with X: and has a key, K:", source)
    if stray:
        message = (
            f'music that belongs to no tune with a key is left out ({len(stray)} lines, the first "{stray[0][:40]}")'
        )
        sheets[0] = replace(sheets[0], remarks=(*sheets[0].remarks, Remark(message=message)))
    return sheets


def _tunes(text: str, stray: list[str]) -> Iterator[tuple[list[str], list[str]]]:
    """The lines of each tune, and the fields that the file states for all. Lines of music in no tune go to ``stray``."""
    common: list[str] = []
    lines: list[str] = []
    found = 0
    for line in [*text.split("\n"), "X:"]:
        if re.match(r"X\s*:", line):
            if any(each.startswith("K:") for each in lines):
                found += 1
                if found > MOST_TUNES:
                    return
                yield lines, common
            else:
                stray += [each for each in lines if "|" in each and not FIELD.match(each) and each[0] != "%"]
            if not found and not common:
                common = [each for each in lines if FIELD.match(each) or ACCIDENTALS_HOLD.match(each)]
            lines = []
        lines.append(line)


def _sheet(lines: Sequence[str], common: Sequence[str]) -> Sheet:
    """One tune."""
    remarks = Remarks()
    header = Header(remarks, common)
    body = Body(header, remarks)
    in_body = False
    for whole in lines:
        line = whole[:LONGEST_LINE]
        if len(whole) > LONGEST_LINE:
            remarks.tell(0, f"a line has more than {LONGEST_LINE} characters; the rest of it is left out")
        header.take_accidentals(line)
        bare = re.sub(r"(?<!\\)%.*$", "", line).rstrip()
        if not bare.strip():
            continue
        if not in_body:
            header.take(bare)
            in_body = bare.startswith("K:")
        elif re.match(r"[wW]:", bare):
            body.read_words(bare)
        else:
            body.read(bare)
    first = body.first()
    body.finish()
    return _together(header, first, [voice for voice in body.voices.values() if voice is not first], remarks)


def _together(header: Header, first: Voice, others: Sequence[Voice], remarks: Remarks) -> Sheet:
    """The sheet: the first voice with the chords of all, and the header's fields."""
    bars = _with_others(first.bars, [voice for voice in others if voice.bars], remarks)
    bars = bracketed(bars, [False] * len(bars))
    bars, odd = settled_repeats(bars)
    key = header.key or (guessed_key(bars) if bars else None)
    if header.key is None and key is not None:
        remarks.tell(0, f"no key is stated; {key.shown} fits best", lost=False)
    roadmap = _roadmap(header.order, bars, remarks)
    return Sheet(
        title=header.titles[0] if header.titles else "",
        key=key,
        meter=bars[0].meter if bars else header.meter,
        tempo=header.read_tempo(header.tempo_text) if header.tempo_text else None,
        notes="; ".join(dict.fromkeys(header.credits)),
        bars=tuple(bars),
        remarks=(*remarks, *odd),
        roadmap=roadmap,
    )


def _with_others(bars: Sequence[SheetBar], others: Sequence[Voice], remarks: Remarks) -> list[SheetBar]:
    """The tune's bars with the notes of the other voices, and their chords."""
    if others:
        remarks.tell(0, f"{len(others) + 1} voices; the first is the tune, chords are taken from all", lost=False)
    found = []
    for index, bar in enumerate(bars):
        also = [voice.bars[index] for voice in others if index < len(voice.bars)]
        chords = _merged(index + 1, (bar, *also), remarks)
        found.append(replace(bar, chords=chords, voices=tuple(note for each in (bar, *also) for note in each.notes)))
    if any(len(voice.bars) > len(bars) for voice in others):
        remarks.tell(0, "other voices have more bars than the first; what is beyond it is left out")
    if any(bar.words for voice in others for bar in voice.bars):
        remarks.tell(0, "the words of the other voices are not taken", lost=False)
    return found


def _merged(number: int, bars: Sequence[SheetBar], remarks: Remarks) -> tuple[SheetChord, ...]:
    """The chords of a bar in all voices, each once; where two stand at one place the first voice's."""
    found = {each.offset: each for each in bars[0].chords}
    for each in (each for bar in bars[1:] for each in bar.chords):
        if each.offset >= bars[0].length or found.setdefault(each.offset, each).chord != each.chord:
            remarks.tell(number, f"{each.chord.symbol} in another voice is left out; the first voice has the place")
    return tuple(found[at] for at in sorted(found))


def _roadmap(order: str, bars: Sequence[SheetBar], remarks: Remarks) -> tuple[str, ...]:
    """The order of the parts, where all of them are there."""
    roadmap = tuple(section_name(name) for name in order_of(order))
    headings = {bar.heading.casefold() for bar in bars}
    if all(name.casefold() in headings for name in roadmap):
        return roadmap
    if headings != {""}:
        remarks.tell(0, f'the order of parts "{order}" names parts that are not there; they stand as written')
    return ()
