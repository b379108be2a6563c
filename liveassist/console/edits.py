"""Edits to chart files during a service. A thread of its own looks at the files, so that the band never waits for a disk.

A file that has changed is read once it has been the same for two looks, so that half a file is not taken for a whole one.
What can be played goes into a queue, from which the runner takes it up when it is safe; what cannot is told, and the song
stays as it was. The settings of a song were laid together when the service began; where the chart states other ones now, that
is told, too.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from queue import Empty, SimpleQueue

from charts.errors import ChartError
from charts.notation import read_chart
from charts.writing import write_chart
from liveassist.console.spec import Piece
from liveassist.service.file import read_service
from liveassist.service.order import read_entry, stamp_of

LOOK = 1.0
"""Seconds between two looks."""
STATED = ("lead", "patience", "room")
"""The settings that a chart may state."""

Stamp = tuple[int, ...]
Edit = tuple[int, Piece | str]
"""The number of a piece, and what it is now, or why it stays as it was."""


class Edits:
    """Looks after the chart files of a service."""

    def __init__(self, pieces: Sequence[Piece], service: str, service_name: str) -> None:
        """
        Args:
            pieces: the service's items, as they are played.
            service: text of the service's file.
            service_name: its name, for messages.
        """
        self._pieces = list(pieces)
        self._service, _ = read_service(service, service_name)
        self._seen: dict[int, Stamp] = {}
        """How each file was at the last look."""
        self._read: dict[int, Stamp] = {number: piece.stamp for number, piece in enumerate(pieces) if piece.path}
        """How each was when it was read."""
        self._news: SimpleQueue[Edit] = SimpleQueue()
        self._end = threading.Event()

    def begin(self) -> None:
        """Look from now on, until ``end``."""
        threading.Thread(target=self._work, name="edits", daemon=True).start()

    def end(self) -> None:
        """Look no more."""
        self._end.set()

    def news(self) -> list[Edit]:
        """What has been edited since last asked. Never waits."""
        found = []
        with suppress(Empty):
            while True:
                found.append(self._news.get_nowait())
        return found

    def look(self) -> None:
        """Look at every file once."""
        for number, before in self._read.items():
            now = stamp_of(Path(self._pieces[number].path))
            settled, self._seen[number] = now == self._seen.get(number), now
            if now and now != before and settled:
                self._read[number] = now
                self._news.put((number, self._edited(number, now)))

    def _work(self) -> None:
        while not self._end.wait(LOOK):
            self.look()

    def _edited(self, number: int, now: Stamp) -> Piece | str:
        piece, item = self._pieces[number], self._service.items[number]
        path = Path(piece.path)
        try:
            chart = read_entry(self._service, replace(item, chart=path.name), path.parent).chart
            assert chart is not None  # the item names one
            text = chart.text or write_chart(chart)
            before = read_chart(piece.chart, piece.chart_name)
        except (ChartError, ValueError) as error:
            first = error.problems[0] if isinstance(error, ChartError) else error
            return f"{path.name} as edited cannot be played, and stays as it was: {first}"
        other = [name for name in STATED if getattr(chart, name) != getattr(before, name)]
        told = [
            f"{path.name}: another {name} is stated now; it holds when the service is begun again" for name in other
        ]
        self._pieces[number] = replace(
            piece,
            title=chart.title,
            chart=text,
            stamp=now,
            notes=item.notes or chart.notes,
            notices=tuple(dict.fromkeys([*piece.notices, *told])),
        )
        return self._pieces[number]
