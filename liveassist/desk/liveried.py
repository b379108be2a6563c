"""What our screens have in common: two liveries, night at first, no animation, a look at the band many times a second."""

from __future__ import annotations

from textual.app import App
from textual.theme import Theme

from liveassist.desk.colours import LIVERIES, NIGHT

LOOKS = 24
"""How often a second the desk looks whether there is a new picture."""


def theme(name: str) -> Theme:
    inks = LIVERIES[name]
    return Theme(
        name=name,
        primary=inks["now"],
        secondary=inks["feet"],
        accent=inks["now"],
        warning=inks["alarm"],
        error=inks["alarm"],
        foreground=inks["ink"],
        background=inks["ground"],
        surface=inks["ground"],
        panel=inks["ground"],
        dark=name == "night",
        variables=dict(inks),
    )


class Liveried(App[int], inherit_bindings=False):
    """An app in our liveries that looks for a newer picture of the band."""

    ENABLE_COMMAND_PALETTE = False

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return dict(NIGHT)

    def on_mount(self) -> None:
        for name in LIVERIES:
            self.register_theme(theme(name))
        self.theme = "night"
        self.animation_level = "none"
        self.set_interval(1 / LOOKS, self.look)

    def look(self, now: float | None = None) -> None:
        """Take the newest picture, if there is one, and draw it."""
        raise NotImplementedError
