"""One HTML file for screen and printer: pages of a score, or text; nothing is fetched from anywhere."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

from liveassist.page.engraving import TYPE, engrave, music_font, word_font

_STYLE = """
@page { margin: 10mm; }
html { background: #ddd; }
body { margin: 0; font-family: TYPE; color: #000; }
.page { background: #fff; width: 190mm; margin: 6mm auto; padding: 8mm; box-shadow: 0 1mm 3mm #888; }
.page svg { display: block; width: 100%; height: auto; }
@media screen and (max-width: 215mm) { .page { width: auto; margin: 2mm 0; padding: 2mm; box-shadow: none; } }
.music { font-family: Leipzig; font-weight: normal; font-style: normal; line-height: 0; }
.flat, .sharp { font-family: Leipzig; font-weight: normal; font-size: 0.9em; line-height: 0; vertical-align: 0.3em; }
.flat { vertical-align: 0.13em; }
@media print {
  html { background: none; }
  .page { width: auto; margin: 0; padding: 0; box-shadow: none; break-after: page; break-inside: avoid; }
  .page:last-child { break-after: auto; }
  .page svg { max-height: 257mm; }
}
""".replace("TYPE", TYPE)
_ACCIDENTAL = re.compile("[♭♮♯𝄪𝄫]")
_DECLARATION = re.compile(r"^\s*(<\?xml[^>]*\?>|<!DOCTYPE[^>]*>)\s*", re.MULTILINE)


def shown(text: str) -> str:
    """Text for a page, its accidentals in the music font."""
    return _ACCIDENTAL.sub(
        lambda found: f'<span class="{"flat" if found[0] in "♭𝄫" else "sharp"}">{found[0]}</span>', escape(text)
    )


def score_page(title: str, musicxml: str) -> str:
    """A score, engraved."""
    pages = [f'<div class="page">\n{_DECLARATION.sub("", page)}\n</div>' for page in engrave(musicxml)]
    return document(title, pages)


def document(title: str, pages: Sequence[str], *, style: str = "") -> str:
    """The file around its pages, both fonts inside it."""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{word_font()}{music_font()}{_STYLE}{style}</style>\n</head>\n<body>\n"
        + "\n".join(pages)
        + "\n</body>\n</html>\n"
    )
