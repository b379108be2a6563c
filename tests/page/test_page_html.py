"""Pages for the eye: complete in themselves, and readable without our fonts."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from liveassist.page.chords import chords_page
from liveassist.page.engraving import PAGE_HEIGHT, PAGE_WIDTH
from liveassist.page.overview import overview_page, roadmap
from liveassist.page.printing import WRITERS, Wishes, score_as_html

DEFAULT = Wishes(fullness=2)
FLATS = "title = A & B\nkey = Eb\n\n== Verse ==\n| Eb/G | F#m7b5 | Cm | Bb7(b9) (hold) |]\n  <words>\n"


def pages(arranged) -> dict[str, str]:
    song = arranged(FLATS)
    return {
        "score": score_as_html(song, DEFAULT),
        "chords": chords_page(song.route.chart),
        "overview": overview_page([song.route]),
    }


@pytest.mark.parametrize("kind", ["score", "chords", "overview"])
def test_nothing_is_fetched(arranged, kind):
    page = pages(arranged)[kind]
    links = re.findall(r"(?:href|src|url)\s*[=(]\s*[\"']?([^\"')\s>]+)", page)
    assert all(link.startswith(("data:", "#")) for link in links)
    outside = set(re.findall(r"https?://[^\"'\s<)]+", re.sub(r"base64,[A-Za-z0-9+/=]+", "", page)))
    assert all(link.startswith("http://www.w3.org/") for link in outside), "names of XML, which nobody fetches"
    assert "<script" not in page
    assert "@import" not in page


@pytest.mark.parametrize("kind", ["score", "chords", "overview"])
def test_the_music_font_is_inside(arranged, kind):
    page = pages(arranged)[kind]
    fonts = re.findall(r"@font-face\s*\{[^}]*font-family:\s*[\"']?(\w+)[^}]*data:[^}]*base64", page)
    assert {"Leipzig", "Liberation"} <= set(fonts)


def test_words_are_text_and_not_markup(arranged):
    for page in pages(arranged).values():
        assert "A &amp; B" in page
        assert "<words>" not in page
    assert "&lt;words&gt;" in pages(arranged)["score"]


def test_a_stray_control_character_spoils_nothing(arranged):
    song = arranged("title = A\x07 B\nkey = C\n\n== Verse ==\n| C |]\n  wo\x01rds\n")
    assert "words" in score_as_html(song, DEFAULT)


def test_flats_and_sharps_are_signs(arranged):
    for kind in ("chords", "overview"):
        page = pages(arranged)[kind]
        assert '<span class="flat">♭</span>' in page
    assert 'F<span class="sharp">♯</span>m7<span class="flat">♭</span>5' in pages(arranged)["chords"]


def test_pages_fit_on_a4_and_letter():
    """With a centimetre around them, in tenths of a millimetre. A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 inches (ANSI
    Y14.1, from memory)."""
    narrower, shorter = min(2100, 8.5 * 254), min(2970, 11 * 254)
    assert narrower - PAGE_WIDTH >= 2 * 100
    assert shorter - PAGE_HEIGHT >= 2 * 100


def test_svg_pages_stand_by_themselves(song):
    files = WRITERS[".svg"](song, DEFAULT)
    assert list(files) == ([""] if len(files) == 1 else [f"-{number}" for number in range(1, len(files) + 1)])
    for data in files.values():
        root = ElementTree.fromstring(data)
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert root.attrib["width"].endswith("mm")
        shown = "".join(root.itertext())
        assert not re.search("[\ue000-\uf8ff]", shown), "signs that only a music font has"


def test_every_demo_chart_prints_with_all_it_says(song):
    page = score_as_html(song, DEFAULT)
    text = re.sub(r"\s+", " ", "".join(re.sub(r"<style.*?</style>", "", page, flags=re.DOTALL)))
    text = re.sub(r"<[^>]*>", "", text).replace("\u00a0", " ")
    assert song.route.chart.title in text
    for bar in song.route.bars:
        assert bar.section in text


def test_the_chart_s_lines_are_the_page_s_lines(arranged):
    song = arranged("title = A\nkey = C\n\n== Verse ==\n| C | F |\n  one line\n| G | C |]\n  and another\n")
    page = score_as_html(song, DEFAULT)
    assert page.count('class="system"') == 2


def test_chords_have_repeats_endings_and_signs(arranged):
    page = chords_page(
        arranged("title = A\nkey = C\n\n== Verse ==\n|: C (segno) | F |1. G :|2. C (D.S.) |]\n").route.chart
    )
    assert page.count('class="dots"') == 2
    assert "1." in page
    assert "2." in page
    assert "D.S." in page
    assert "\ue047" in page


def test_the_overview_names_the_first_pedal_note_and_the_roadmap(arranged):
    song = arranged(
        "title = A\nkey = Bb\ntempo = half 60\nnotes = Flutes 8 and 4\n\n== Roadmap ==\nVerse\nBridge up a tone\n\n"
        "== Verse ==\n| N.C. | F7/Eb |\n\n== Bridge ==\nkey = C\n| C |]\n"
    )
    page = overview_page([song.route])
    assert '<span class="pedal">E<span class="flat">♭</span></span>' in page
    assert "in Verse, bar 2" in page
    assert "half 60" in page
    assert "Flutes 8 and 4" in page
    assert list(roadmap(song.route.chart)) == ["Verse", "Bridge (C major, up a tone)"]
