"""The states of the band and the legal moves between them. Data only; the tests spell the moves again by hand.

* tacet: chart loaded, deaf to the keys;
* ready: armed, waits for a count-in, the first foot or a named bar;
* count-in: counting; playing: playing;
* vamping: a cue is missing, or a vamp was asked for: the chord or the bars go round;
* holding: one chord stands, or silence; no attack;
* ending: the last section is being played; never entered by the clock alone, except with lead pulse;
* fine: over, on the way back to tacet.
"""

from __future__ import annotations

TACET, READY, COUNT_IN, PLAYING, VAMPING, HOLDING, ENDING, FINE = STATES = (
    "tacet",
    "ready",
    "count-in",
    "playing",
    "vamping",
    "holding",
    "ending",
    "fine",
)

BEGUN = frozenset({PLAYING, VAMPING, HOLDING, ENDING})
"""The song has begun, and has not ended."""
SILENT = frozenset({TACET, READY, FINE})
"""Nothing is played, and nothing is counted."""

MOVES: dict[str, frozenset[str]] = {
    TACET: frozenset({READY, COUNT_IN}),
    READY: frozenset({TACET, COUNT_IN, PLAYING, ENDING}),
    COUNT_IN: frozenset({TACET, READY, PLAYING, ENDING, FINE}),
    PLAYING: frozenset({VAMPING, HOLDING, ENDING, FINE, TACET}),
    VAMPING: frozenset({PLAYING, HOLDING, ENDING, FINE, TACET}),
    HOLDING: frozenset({PLAYING, VAMPING, ENDING, FINE, TACET}),
    ENDING: frozenset({PLAYING, VAMPING, HOLDING, FINE, TACET}),
    FINE: frozenset({TACET, READY, COUNT_IN}),
}
