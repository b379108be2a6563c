"""The nods: live requests of the kind a leader gives a band.

One table: core, desk, console profile and help read it.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Nod:
    """One request."""

    name: str
    key: str
    """The key on the desk, as Textual names keys."""
    says: str
    """What it asks, in a few words."""
    takes: str = ""
    """What the number with it means, where it takes one."""


NODS = {
    nod.name: nod
    for nod in (
        Nod("ready", "r", "arm the band: it starts with the first foot"),
        Nod("count", "k", "count in, then play"),
        Nod("tacet", "z", "go deaf and back to the beginning: try stops, play a hymn"),
        Nod("again", "a", "this section once more"),
        Nod("on", "o", "leave the vamp, hold or repeat at the next bar line"),
        Nod("vamp", "v", "loop the marked bars, or the last two or four", "bars to loop"),
        Nod("hold", "h", "hold this chord until the foot or 'on'"),
        Nod("out", "u", "figure silent, place kept"),
        Nod("in", "i", "figure back in"),
        Nod("tag", "g", "play the last bars once more before the end", "bars to repeat"),
        Nod("close", "c", "go to the ending at the end of this section"),
        Nod("cut", "x", "stop everything now; again within two seconds sweeps every key"),
        Nod("mute", "p", "click silent at once, or back"),
        Nod("up", "]", "key up a half step at the next bar line"),
        Nod("down", "[", "key down a half step at the next bar line"),
        Nod("yes", "e", "take the key that the band offers"),
        Nod("fuller", "+", "more voices and attacks"),
        Nod("thinner", "-", "fewer voices and attacks"),
        Nod("tap", "t", "tap the tempo, twice or more"),
        Nod("drums", "d", "time from the drummer, place from your feet; again: back"),
        Nod("sticks", "", "a bar of even presses counts in, as a drummer's sticks do"),
        Nod("feet", "", "time from your feet"),
        Nod("click", "", "time from a steady click at the tempo of now"),
        Nod("clock", "", "time from the MIDI clock"),
        Nod("next", ">", "in a service: on to the next item, the band tacet"),
        Nod("back", "<", "in a service: back to the item before"),
        Nod("to", "", "go to a step of the roadmap at the next bar line", "step of the roadmap, from 0"),
    )
}
