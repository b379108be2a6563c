"""Settings in a musician's words, for the settings sheet: what stands, and not how it is stored."""

from __future__ import annotations

from liveassist.arranging.arrange import CHURCH
from liveassist.arranging.touch import FASTEST
from liveassist.settings import Settings

AS_WRITTEN = "as the chart says"
WORDS: dict[tuple[str, object], str] = {
    ("patience", "0"): "waits for every foot",
    ("patience", "1"): "one missing change",
    ("patience", "2"): "two missing changes",
    ("patience", "always"): "goes on always",
    ("tempo", 0.0): AS_WRITTEN,
    ("feel", ""): AS_WRITTEN,
    ("room", 0.0): f"a church ({CHURCH:g} seconds)",
    ("armed", True): "ready for the first foot",
    ("armed", False): "tacet until asked",
    ("count_in", -1): "one bar, two where slow",
    ("count_in", 0): "none",
    ("count_in", 1): "one bar",
    ("count_in", 2): "two bars",
    ("from_bar", 0): "the beginning",
    ("out", True): "figure silent until the nod in",
    ("out", False): "figure plays",
    ("shoe", "off"): "not the band's",
    ("shoe", "fullness"): "sets the fullness",
    ("variety", True): "small variations",
    ("variety", False): "equal bars alike",
    ("action", 0.0): f"{FASTEST:g} attacks a second",
    ("span", 12): "an octave",
    ("span", 13): "a small ninth",
    ("span", 14): "a ninth",
    ("span", 15): "a small tenth",
    ("span", 16): "a tenth",
    ("span", 17): "an eleventh",
    ("coupled", True): "manuals coupled: figure below the tune",
    ("coupled", False): "manuals apart",
    ("bass", True): "played",
    ("bass", False): "the player's feet",
    ("click", True): "sent",
    ("click", False): "none",
    ("click_on", "beats"): "on every beat",
    ("click_on", "backbeat"): "on two and four",
    ("click_on", "bars"): "on bar starts",
    ("drop", ""): "never falls out",
    ("practise", ""): "the whole song",
    ("loop", True): "round and round until 'on'",
    ("loop", False): "once",
    ("straight_on", True): "an underscore is played once",
    ("straight_on", False): "an underscore goes round until 'on'",
    ("click_accent", True): "first beat of a bar",
    ("click_accent", False): "none",
    ("subdivision", "auto"): "by tempo and meter",
    ("ears", ""): "none",
    ("ears_level", 0.0): "as usual, low",
    ("drummer_ears", ""): "none",
    ("drummer_level", 0.0): "as usual, low",
    ("signals", True): "given",
    ("signals", False): "none",
    ("calls", True): "given",
    ("calls", False): "none",
    ("calls_folder", ""): "none",
    ("sound_buffer", 0.0): "20 milliseconds",
    ("ear_level", 0.0): "not measured",
}
"""What a value means, where the value itself does not say it."""
FORMS = {
    "tempo": "{:g} beats a minute",
    "fullness": "{} of 4",
    "room": "{:g} seconds",
    "action": "{:g} attacks a second",
    "switch_unit": "one {} a press",
    "ears_level": "{:g} dBFS",
    "drummer_level": "{:g} dBFS",
    "click_offset": "{:g} milliseconds",
    "drummer_offset": "{:g} milliseconds",
    "sound_buffer": "{:g} milliseconds",
    "ear_level": "{:g} dB(A)",
}


def in_words(name: str, settings: Settings) -> str:
    """The value of a setting in words."""
    if name in ("time", "place"):
        stands = settings.time_lead if name == "time" else settings.place_lead
        return stands if getattr(settings, name) else f"{stands}, as the lead says"
    value = getattr(settings, name)
    if name == "from_bar" and value:
        return f"bar {value + 1}"
    return WORDS.get((name, value)) or FORMS.get(name, "{}").format(value)
