"""Engraving: from MusicXML to pages as SVG, by verovio.

Measures are tenths of a millimetre. A page is what A4 and Letter both have inside their margins, so one engraving prints on
either; staves are a little smaller where that saves a page turn. Verovio writes flats and sharps in text with its music font,
which whoever shows the page must embed (``music_font``). A page that stands by itself has them as Unicode's signs in the type
of the words instead, because many programs ignore fonts embedded in SVG. A metronome's note has no such sign, so it becomes an
outline in either.
"""

from __future__ import annotations

import re
from functools import cache
from importlib import resources
from xml.etree import ElementTree

PAGE_WIDTH, PAGE_HEIGHT = 1900, 2560
"""Inside A4 (210 x 297 mm) with 10 mm left and right, and inside Letter (216 x 279 mm) with 11 mm above and below."""
MARGIN = 100
UNITS = (8.0, 7.4, 6.8)
"""Half the distance of two lines of the staff, the larger first: staves of 6.4, 5.9 and 5.4 mm."""
MOST_PAGES = 4
"""A song longer than that has its page turns whatever the staves."""
TYPE = "'Liberation', 'Liberation Serif', 'Times New Roman', Times, serif"
"""The page's type for words: verovio measures them in the widths of Times, which these share."""
TYPE_ALONE = "'Liberation Serif', 'Times New Roman', Times, 'DejaVu Sans', serif"
MUSIC = "Leipzig"
_OPTIONS = {
    "pageWidth": PAGE_WIDTH,
    "pageHeight": PAGE_HEIGHT,
    "pageMarginTop": 20,
    "pageMarginBottom": 20,
    "pageMarginLeft": 20,
    "pageMarginRight": 20,
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
_SIGNS = {"\uea63": "𝄫", "\uea64": "♭", "\uea65": "♮", "\uea66": "♯", "\uea67": "𝄪"}
"""The accidentals of figured bass in SMuFL, which verovio puts in text, as Unicode has them."""


def engrave(musicxml: str) -> list[str]:
    """The pages of a score, each an SVG document without its fonts. The same score gives the same pages."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    best = None
    for unit in UNITS:
        toolkit = verovio.toolkit()
        toolkit.setOptions(_OPTIONS | {"unit": unit})
        if not toolkit.loadData(musicxml):
            raise AssertionError("verovio reads every score that we write")
        if best is None or toolkit.getPageCount() < best.getPageCount():
            best = toolkit
        if not 1 < best.getPageCount() <= MOST_PAGES:
            break
    assert best is not None
    return [_finished(best.renderToSVG(number)) for number in range(1, best.getPageCount() + 1)]


def alone(page: str) -> str:
    """A page that stands by itself: with margins, and without the music font."""
    framed = (
        f'viewBox="{-MARGIN} {-MARGIN} {PAGE_WIDTH + 2 * MARGIN} {PAGE_HEIGHT + 2 * MARGIN}" '
        f'width="{(PAGE_WIDTH + 2 * MARGIN) / 10}mm" height="{(PAGE_HEIGHT + 2 * MARGIN) / 10}mm"'
    )
    page = page.replace(f'viewBox="0 0 {PAGE_WIDTH} {PAGE_HEIGHT}"', framed, 1)
    page = page.replace("<svg class=", f'<svg width="{PAGE_WIDTH}" height="{PAGE_HEIGHT}" class=', 1)
    plain = page.replace(f'font-family="{TYPE}"', f'font-family="{TYPE_ALONE}"')
    return _SIGN.sub(
        lambda found: f'<tspan font-size="{_ALONE_SIZE}px">{"".join(_SIGNS[sign] for sign in found[1])}</tspan>', plain
    )


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
_ALONE_SIZE = 340
_RAISED = re.compile(r'<g id="\w+" class="(?:reh|tempo)"')
_RAISE = 80
"""So far section names and tempi stand above where verovio puts them, which forgets the frame and the stem."""
_SPACE = 0.12
"""Between a note and its dot, as a share of their size."""
_TEMPO = re.compile(
    r'<text x="(?P<x>-?\d+)" y="(?P<y>-?\d+)"(?P<rest>[^>]*)>(?P<before>(?:\s*<tspan[^>]*>)*?)'
    rf'\s*<tspan font-family="{MUSIC}" font-size="(?P<size>\d+)px">(?P<notes>[\ueca0-\uecb7 ]+)</tspan>'
)


def _finished(page: str) -> str:
    """A page in our type, with its section names and tempi out of the way of what is below them."""
    page = page.replace('font-family="Times, serif"', f'font-family="{TYPE}"')
    page = _RAISED.sub(rf'\g<0> transform="translate(0 -{_RAISE})"', page)
    return _TEMPO.sub(_outlined, page)


def _outlined(found: re.Match[str]) -> str:
    """A metronome's note drawn before the text that it began."""
    x, size = int(found["x"]), int(found["size"])
    drawn = []
    for sign in found["notes"]:
        if sign == " ":
            x += round(size * _SPACE)
            continue
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
