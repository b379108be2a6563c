"""A picture in words and signs: what each plate of the desk shows. Pure text; no screen in here.

Every state has a sign of its own, so that nothing is told by colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from liveassist.band.states import COUNT_IN, ENDING, FINE, HOLDING, PLAYING, READY, TACET, VAMPING
from liveassist.link import Picture, Step

SIGNS = {
    TACET: "○",
    READY: "◆",
    COUNT_IN: "∴",
    PLAYING: "►",
    VAMPING: "↻",
    HOLDING: "▬",
    ENDING: "▼",
    FINE: "■",
}
HEARD_SIGNS = {"heard": " ", "note": "·", "caution": "!"}
FEET_HALF, FEET_REACH = 20, 100
"""Signs on either side of the beat, and the milliseconds that they stand for; what fell further off stands at the edge."""
FEET_ON = 10
"""Within so many milliseconds a foot is on the beat: the order of two sounds is heard from some 20 on (Watson 2004 on
Hirsh)."""
FEET_TOLD = 13
EARLY, LATE = "early ", " late "
WELL, UNWELL = "●", "!"
CURRENT, CHOSEN = "►", "»"
SURE = ((0.8, ""), (0.5, "fairly sure of the place"), (0.0, "UNSURE of the place"))
"""Least certainty, and how to say it; nothing is said when all is well."""


def state(picture: Picture) -> str:
    """Sign and word."""
    return f"{SIGNS.get(picture.state, '?')} {picture.state}"


def title(picture: Picture) -> str:
    return "  ·  ".join(part for part in (picture.item, picture.title, picture.key, picture.meter) if part)


def large(picture: Picture) -> tuple[str, str]:
    """What stands in large letters: chord and pedal note now; before the first note of a service's song, what is left of the
    gap before it, else the tempo, and the first pedal note."""
    if picture.gap is not None:
        return str(picture.gap), picture.first_pedal
    if picture.first_of:
        return picture.first_tempo, picture.first_pedal
    return picture.chord, picture.pedal


def labels(picture: Picture) -> tuple[str, str]:
    """What that is."""
    whose = "" if picture.first_of == picture.title else f"next: {picture.first_of}, "
    pedal = "first pedal" if picture.first_pedal else ""
    if picture.gap is not None:
        return "seconds left" + (f"; {whose}tempo {picture.first_tempo}" if picture.first_of else ""), pedal
    if picture.first_of:
        return f"{whose}tempo", pedal
    return "now" if picture.chord else "", "pedal" if picture.pedal else ""


def ordinal(number: int) -> str:
    """1st, 2nd, 3rd, 4th, ... 11th, ... 21st."""
    ending = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def place(picture: Picture) -> str:
    """Section and bar: "Chorus, 2nd time, bar 3 of 8"."""
    if not picture.section:
        return ""
    time = f", {ordinal(picture.pass_)} time" if picture.pass_ > 1 else ""
    bar = "pickup" if picture.bar == 0 else f"bar {picture.bar} of {picture.bars}"
    return f"{picture.section}{time}, {bar}"


def coming(picture: Picture) -> str:
    """When the next chord comes, and what the feet will need."""
    if not picture.next_chord:
        return "next: the end" if picture.section and not picture.first_of else ""
    if picture.next_in is None:
        when = "next"
    else:
        beats = math.ceil(picture.next_in - 0.25)  # a hair after the beat still counts as on it
        when = "next, now" if beats < 1 else f"next, in {beats} beat{'s' if beats > 1 else ''}"
    return f"{when}   pedal {picture.next_pedal}" if picture.next_pedal else when


def tempo(picture: Picture) -> str:
    """The pulse in numbers; the chart's own tempo where it differs."""
    if not picture.bpm:
        return ""
    now, home = round(picture.bpm), round(picture.home_bpm)
    return f"{now} bpm" + (f" (chart {home})" if home and abs(now - home) > 1 else "")


def beat_boxes(beats: int, beat: int, columns: int, rows: int) -> str:
    """A box for each counted beat, the present one filled; in one row of small ones where there is no room."""
    width = min(2 * rows, (columns + 1) // max(1, beats) - 1)
    if width < 3 or rows < 3:
        return " ".join("■" if number == beat else "□" for number in range(1, beats + 1))
    inside, height = width - 2, min(rows, max(3, width // 2))
    boxes = []
    for number in range(1, beats + 1):
        if number == beat:
            boxes.append(["█" * width] * height)
        else:
            middle = [f"│{' ' * inside}│"] * (height - 2)
            middle[len(middle) // 2] = f"│{str(number).center(inside)}│"
            boxes.append([f"┌{'─' * inside}┐", *middle, f"└{'─' * inside}┘"])
    return "\n".join(" ".join(row) for row in zip(*boxes, strict=True))


def standing(picture: Picture) -> str:
    """Lead, fullness, key, figure and certainty: what stands until somebody changes it."""
    leads = (picture.time_lead, picture.place_lead)
    lead = f"lead {picture.lead}" if leads[0] == leads[1] else f"time {leads[0]}, place {leads[1]}"
    parts = [lead, f"fullness {'▮' * picture.fullness}{'▯' * (4 - picture.fullness)} {picture.fullness}"]
    if picture.lift:
        way = "up" if picture.lift > 0 else "down"
        parts.append(f"key {way} {abs(picture.lift)} half step{'s' if abs(picture.lift) > 1 else ''}")
    if picture.out:
        parts.append("figure OUT")
    if picture.muted:
        parts.append("click MUTED")
    if picture.state not in (TACET, READY, FINE):
        parts.append(next((words for least, words in SURE if picture.sure >= least), SURE[-1][1]))
    return "  ·  ".join(part for part in parts if part)


def ports(picture: Picture) -> str:
    """Health of each port; the sick ones first and with their story."""
    sick = [f"{UNWELL} {port.role}: {port.text}" for port in picture.ports if not port.well]
    well = [f"{WELL} {port.role}" for port in picture.ports if port.well]
    return "   ".join(sick + well)


def heard(picture: Picture, rows: int) -> str:
    """The last lines of what the band heard and made of it, latest at the bottom."""
    lines = []
    for line in picture.heard[-rows:] if rows else ():
        lines.append(f"{HEARD_SIGNS.get(line.kind, ' ')} {clock(line.at)}  {line.text}")
    return "\n".join(lines)


def feet(picture: Picture, columns: int) -> str:
    """The latest pedal notes around the beat: a scale from early to late, the beat in the middle, the newest note filled."""
    if not picture.rehearsing:
        return ""
    told = "" if not picture.feet else _off(picture.feet[-1])
    half = min(FEET_HALF, (columns - len(EARLY) - len(LATE) - FEET_TOLD) // 2)
    if half < 4:
        return f"feet: {told}" if told else ""
    scale = ["─"] * (2 * half + 1)
    scale[half] = "┼"
    for number, off in enumerate(picture.feet, 1):
        place = half + max(-half, min(half, round(off * half / FEET_REACH)))
        scale[place] = "●" if number == len(picture.feet) else "○"
    return f"{EARLY}{''.join(scale)}{LATE} {told}".rstrip()


def _off(milliseconds: int) -> str:
    """Where a note fell, in words: on the beat within what nobody hears."""
    if abs(milliseconds) <= FEET_ON:
        return "on the beat"
    return f"{abs(milliseconds)} ms {'late' if milliseconds > 0 else 'early'}"


def words(lines: Sequence[str], rows: int = 1) -> str:
    """The words of a line of bars, verse below verse; on the last row whatever is left, side by side."""
    said = [line.strip() for line in lines if line.strip()]
    return "\n".join([*said[: rows - 1], "  ".join(said[rows - 1 :])]).rstrip("\n")


def word_rows(now: Sequence[str], coming: Sequence[str], rows: int) -> tuple[int, int]:
    """How many rows the words now and those that come have, of so many that there are for both: one each at least, and those
    now are served first."""
    wanted = [sum(bool(line.strip()) for line in lines) for lines in (now, coming)]
    first = max(1, min(wanted[0], rows - 1))
    return first, max(1, min(wanted[1], rows - first))


def asked(picture: Picture) -> str:
    """Nods that wait for their bar line, and how long an underscore has gone on."""
    parts = [f"underscore {clock(picture.underscore)}, until 'on'"] if picture.underscore is not None else []
    when = "after the hold, at the bar line" if picture.state == HOLDING else "at the bar line"
    parts += [f"{when}: {', '.join(picture.asked)}"] if picture.asked else []
    if not parts and picture.following and picture.state in (TACET, READY, FINE):
        parts = [f"after this: {picture.following}"]
    return "  ·  ".join(parts)


def clock(seconds: float) -> str:
    """Minutes and seconds: 2:05."""
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes}:{rest:02d}"


def window(length: int, current: int, rows: int) -> range:
    """Which lines of a list to show: the current one, a little of what was, and more of what comes."""
    first = max(0, min(current - rows // 3, length - rows))
    return range(first, min(length, first + rows))


def roadmap(steps: Sequence[Step], current: int, rows: int, chosen: int | None = None) -> list[tuple[str, bool]]:
    """Lines of the roadmap around the current (or the chosen) step: the text, and whether it is to stand out."""
    middle = current if chosen is None else chosen
    lines = []
    for index in window(len(steps), middle, rows):
        step = steps[index]
        sign = CHOSEN if index == chosen else CURRENT if index == current else " "
        note = f"  {step.note}" if step.note else ""
        lines.append((f"{sign} {index + 1:2d} {step.name}{note}", index == middle))
    return lines


def settings(picture: Picture) -> list[tuple[str, str, str]]:
    """Name, value and where it came from, with headings."""
    return [("setting", "value", "from"), *picture.origins]


# -- the drummer's sheet ----------------------------------------------------------------------------------------------


def beat_of(picture: Picture) -> int:
    """The beat of the bar; in the count-in the number that is counted; 0 while nothing moves."""
    if picture.counting:
        return picture.beats - (picture.counting - 1) % max(1, picture.beats)
    return picture.beat


def then(picture: Picture) -> str:
    """What comes after this section."""
    if not picture.bars_left:
        return f"begins with {picture.section}" if picture.section else ""
    return f"then {picture.next_section}" if picture.next_section else "then the end"


def bars_left(picture: Picture) -> str:
    if not picture.bars_left:
        return ""
    return "last bar" if picture.bars_left == 1 else "bars left"


def time_from(picture: Picture) -> str:
    return f"time from {picture.time_lead}" if picture.section else ""
