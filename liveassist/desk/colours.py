"""Two liveries of our own: ink on night, and ink on paper. Gold says *now*, blue says *feet*; the pair stays apart for
colour-blind eyes, and nothing on the desk is told by colour alone. Every ink has a contrast of at least 7 to 1 with its
ground (WCAG 2.1, success criterion 1.4.6).
"""

from __future__ import annotations

INKS = ("ground", "ink", "faint", "now", "feet", "alarm")
NIGHT = {
    "ground": "#12100c",
    "ink": "#f3ead6",
    "faint": "#b3a88f",
    "now": "#ffc64d",
    "feet": "#8cc8ff",
    "alarm": "#ff9d7a",
}
PAPER = {
    "ground": "#fbf6e9",
    "ink": "#1c1812",
    "faint": "#544b3a",
    "now": "#6b3d00",
    "feet": "#00427a",
    "alarm": "#8a1c00",
}
LIVERIES = {"night": NIGHT, "paper": PAPER}
