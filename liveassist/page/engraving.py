"""Engraving: from MusicXML to pages as SVG, by verovio.

Measures are tenths of a millimetre. A page is what A4 and Letter both have inside their margins, so one engraving prints on
either. Verovio writes flats and sharps in text with its music font; here they become the Unicode signs, which that font has, too,
and which other fonts stand in for where a program ignores embedded ones. A metronome's note has no such sign, so it becomes an
outline.
"""

from __future__ import annotations

import re
from functools import cache
from importlib import resources
from xml.etree import ElementTree

PAGE_WIDTH, PAGE_HEIGHT = 1900, 2560
"""Inside A4 (210 x 297 mm) with 10 mm left and right, and inside Letter (216 x 279 mm) with 11 mm above and below."""
TYPE = "'Liberation', 'Liberation Serif', 'Times New Roman', Times, serif"
"""The page's type for words: verovio measures them in the widths of Times, which these share."""
MUSIC = "Leipzig"
_OPTIONS = {
    "pageWidth": PAGE_WIDTH,
    "pageHeight": PAGE_HEIGHT,
    "pageMarginTop": 20,
    "pageMarginBottom": 20,
    "pageMarginLeft": 20,
    "pageMarginRight": 20,
    "unit": 8.0,
    "spacingStaff": 8,
    "spacingSystem": 6,
    "breaks": "line",
    "breaksNoWidow": True,
    "footer": "none",
    "justifyVertically": True,
    "justificationMaxVertical": 0.15,
    "font": MUSIC,
    "smuflTextFont": "none",
    "svgViewBox": True,
    "xmlIdSeed": 1,
}
_SIGNS = {"\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\ue263": "𝄪", "\ue264": "𝄫"}
_SIGN_SIZE = 500
"""Of an accidental in text, beside letters of 405."""


def engrave(musicxml: str) -> list[str]:
    """The pages of a score, each an SVG document without its fonts. The same score gives the same pages."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(_OPTIONS)
    if not toolkit.loadData(musicxml):
        raise AssertionError("verovio reads every score that we write")
    return [_finished(toolkit.renderToSVG(number)) for number in range(1, toolkit.getPageCount() + 1)]


def with_fonts(page: str) -> str:
    """A page that carries its music font, to stand by itself."""
    return page.replace("</svg>", f"<style>{music_font()}</style></svg>", 1) if "</svg>" in page else page


def music_font() -> str:
    """The music font as a style, its outlines inside it."""
    return _style("Leipzig.css")


def word_font() -> str:
    """The font of words, likewise: upright, bold and italic."""
    return _style("Liberation.css")


@cache
def _style(name: str) -> str:
    return (resources.files("verovio") / "data" / name).read_text(encoding="utf-8")


# -- what verovio's pages need ------------------------------------------------------------------------------------------

_SIGN = re.compile(rf'<tspan font-family="{MUSIC}" font-size="\d+px">([{"".join(_SIGNS)}]+)</tspan>')
_RAISED = re.compile(r'<g id="\w+" class="(?:reh|tempo)"')
_RAISE = 80
"""So far section names and tempi stand above where verovio puts them, which forgets the frame and the stem."""
_TEMPO = re.compile(
    r'<text x="(?P<x>-?\d+)" y="(?P<y>-?\d+)"(?P<rest>[^>]*)>(?P<before>(?:\s*<tspan[^>]*>)*?)'
    rf'\s*<tspan font-family="{MUSIC}" font-size="(?P<size>\d+)px">(?P<notes>[\ue1d0-\ue1ef]+)</tspan>'
)


def _finished(page: str) -> str:
    page = page.replace('font-family="Times, serif"', f'font-family="{TYPE}"')
    page = _SIGN.sub(
        lambda found: (
            f'<tspan font-family="{MUSIC}, \'DejaVu Sans\', serif" font-size="{_SIGN_SIZE}px">'
            f"{''.join(_SIGNS[sign] for sign in found[1])}</tspan>"
        ),
        page,
    )
    page = _RAISED.sub(rf'\g<0> transform="translate(0 -{_RAISE})"', page)
    return _TEMPO.sub(_outlined, page)


def _outlined(found: re.Match[str]) -> str:
    """A metronome's note drawn before the text that it began."""
    x, size = int(found["x"]), int(found["size"])
    drawn = []
    for sign in found["notes"]:
        path, advance = _glyph(f"{ord(sign):X}")
        scale = size / 1000
        drawn.append(f'<path d="{path}" transform="translate({x} {found["y"]}) scale({scale} {-scale})"/>')
        x += round(advance * scale)
    return f'{"".join(drawn)}<text x="{x}" y="{found["y"]}"{found["rest"]}>{found["before"]}'


@cache
def _glyph(code: str) -> tuple[str, float]:
    """The outline of a music glyph and how far it goes, in thousandths of its size."""
    folder = resources.files("verovio") / "data" / MUSIC
    outline = ElementTree.fromstring((folder / f"{code}.xml").read_text(encoding="utf-8")).find(".//{*}path")
    boxes = ElementTree.fromstring((resources.files("verovio") / "data" / f"{MUSIC}.xml").read_text(encoding="utf-8"))
    box = boxes.find(f".//g[@c='{code}']")
    if outline is None or box is None:
        raise AssertionError(f"verovio's music font has the glyph {code}")
    return outline.attrib["d"], float(box.attrib["h-a-x"])
