"""What the tests of the exchange share: small scores, the music of a chart, and where the corpus of music21 is."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import importing_trips


@pytest.fixture(name="music")
def music_() -> Any:
    return importing_trips.music


@pytest.fixture(scope="session")
def music21_folder() -> Path:
    spec = importlib.util.find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent


NOTE = "<note><pitch><step>{}</step><octave>4</octave></pitch><duration>{}</duration></note>"


def measure(*inside: str, number: int = 1, attributes: str = "", rest: int = 16) -> str:
    """A measure: what is given, and a whole note unless there are notes."""
    body = "".join(inside)
    note = "" if "<note" in body else NOTE.format("G", rest)
    return f'<measure number="{number}">{attributes}{body}{note}</measure>'


FIRST = (
    "<attributes><divisions>4</divisions><key><fifths>1</fifths><mode>major</mode></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
)


def score(*measures: str) -> bytes:
    """A part-wise score of one part in G, 4/4, four divisions a quarter."""
    first, *others = measures
    first = first.replace(">", f">{FIRST}", 1) if "<divisions>" not in first else first
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0"><part-list>'
        '<score-part id="P1"><part-name>Tune</part-name></score-part></part-list><part id="P1">'
        f"{first}{''.join(others)}</part></score-partwise>"
    ).encode()


def harmony(root: str, kind: str = "major", text: str = "", extra: str = "") -> str:
    step, alter = root[0], {"#": 1, "b": -1}.get(root[1:], 0)
    altered = f"<root-alter>{alter}</root-alter>" if alter else ""
    said = f' text="{text}"' if text else ""
    return f"<harmony><root><root-step>{step}</root-step>{altered}</root><kind{said}>{kind}</kind>{extra}</harmony>"


class Scores:
    """The builders, for tests."""

    measure = staticmethod(measure)
    score = staticmethod(score)
    harmony = staticmethod(harmony)
    note = NOTE


@pytest.fixture
def scores() -> type[Scores]:
    return Scores
