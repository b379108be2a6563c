"""The way out: a chart to a file's bytes, by the file's suffix."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable

from charts.chart import Chart
from charts.exchange.abc_out import write_abc
from charts.exchange.musicxml_out import write_musicxml
from charts.exchange.sheet import Remark, Sheet
from charts.exchange.sheeting import sheet_of
from charts.exchange.words_out import write_words
from charts.writing import write_chart

CHART = ".chart"
_CONTAINER = b"""<?xml version="1.0" encoding="UTF-8"?>
<container><rootfiles><rootfile full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/></rootfiles>
</container>
"""


def _compressed(sheet: Sheet) -> bytes:
    """MusicXML in its archive; the same music gives the same bytes."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in (("META-INF/container.xml", _CONTAINER), ("score.musicxml", write_musicxml(sheet))):
            archive.writestr(zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)
    return data.getvalue()


WRITERS: dict[str, Callable[[Sheet], bytes]] = {
    ".musicxml": write_musicxml,
    ".mxl": _compressed,
    ".xml": write_musicxml,
    ".abc": write_abc,
    ".txt": write_words,
}
"""What writes a file, by its suffix; ``CHART`` beside them."""


def exported(chart: Chart, suffix: str) -> tuple[bytes, tuple[Remark, ...]]:
    """The chart in another format, and what there is to tell. Raises KeyError for a suffix that is not in ``WRITERS``,
    ChartError where the chart cannot be played.
    """
    if suffix == CHART:
        return write_chart(chart).encode(), ()
    writer = WRITERS[suffix]
    sheet = sheet_of(chart)
    return writer(sheet), sheet.remarks
