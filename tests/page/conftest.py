"""What the tests of the page share: the demo charts arranged, and MusicXML's own schema."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
import xmlschema

from charts.notation import read_chart, read_chart_file
from charts.roadmap import unfold
from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import Arrangement, played
from liveassist.page.printing import Wishes, musicxml_text

DEMO = sorted((Path(__file__).parents[2] / "demo_charts").glob("*.chart"))
DEFAULT = Wishes(fullness=2)


@cache
def demo(path: Path) -> Arrangement:
    return played(arrange(unfold(read_chart_file(path))), bass=False)


@pytest.fixture(scope="session", params=DEMO, ids=[path.stem for path in DEMO])
def song(request: pytest.FixtureRequest) -> Arrangement:
    """Each demo chart, arranged. All tests of one come together, so that what is read back is read once (``reading``)."""
    return demo(request.param)


@pytest.fixture
def arranged() -> Callable[[str], Arrangement]:
    """The text of a chart to its arrangement."""
    return lambda text: arrange(unfold(read_chart(text)))


@pytest.fixture
def as_musicxml() -> Callable[[str], str]:
    """The text of a chart to its MusicXML."""
    return lambda text: musicxml_text(arrange(unfold(read_chart(text))), DEFAULT)


@pytest.fixture(scope="session")
def schema() -> xmlschema.XMLSchema:
    """The schema of MusicXML 4.0 (W3C Music Notation Community Group), as the package ``musicxml`` carries it; what it includes
    comes with ``xmlschema``. Nothing is fetched."""
    places = {}
    for package in ("musicxml", "xmlschema"):
        found = importlib.util.find_spec(package)
        assert found is not None
        assert found.submodule_search_locations
        places[package] = Path(found.submodule_search_locations[0])
    (xlink,) = places["xmlschema"].rglob("xlink.xsd")
    (xml,) = (path for path in places["musicxml"].rglob("xml.xsd"))
    return xmlschema.XMLSchema(
        str(places["musicxml"] / "generate_classes" / "musicxml_4_0.xsd"),
        locations={"http://www.w3.org/1999/xlink": str(xlink), "http://www.w3.org/XML/1998/namespace": str(xml)},
        allow="local",
    )
