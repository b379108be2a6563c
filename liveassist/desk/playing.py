"""The playing screen: plates that are written again only when what they say has changed."""

from __future__ import annotations

from typing import Any

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Resize
from textual.screen import Screen
from textual.widgets import Static

from liveassist.desk import wording
from liveassist.desk.letters import block
from liveassist.link import Picture

LEAST = (80, 24)
"""Columns and rows that the desk needs."""
WORDS = ("words", "next-words")
BELOW = ("place", "said", "feet", *WORDS, "heard")
HEARD_KEEPS = 1
"""Rows of what was heard that no words take."""

PLATES = (
    *(
        "title",
        "state",
        "now-label",
        "pedal-label",
        "coming",
        "tempo",
        "beats",
        "place",
        "said",
        "words",
        "next-words",
        "feet",
    ),
    *("heard", "roadmap", "standing", "ports", "help", "small"),
)


class Plate(Static):
    """Text in a place of fixed size. Never markup: ``[/]`` is a thing people write in charts."""

    def __init__(self, plate_id: str) -> None:
        super().__init__("", markup=False, id=plate_id)
        self.shown: str | Content = ""

    def show(self, content: str | Content) -> None:
        """Write this, unless it stands here already."""
        if content != self.shown:
            self.shown = content
            self.update(content, layout=False)


class BlockPlate(Plate):
    """A chord symbol or note name in block letters, as large as the plate."""

    def __init__(self, plate_id: str) -> None:
        super().__init__(plate_id)
        self.symbol = ""

    def set(self, symbol: str) -> None:
        self.symbol = symbol
        self.show(block(symbol, *self.content_size))

    def on_resize(self) -> None:
        self.set(self.symbol)


class PlayingScreen(Screen[Any]):
    """Chord, feet, what comes next, place, pulse, words, and what the band has heard."""

    def __init__(self) -> None:
        super().__init__()
        self._picture = Picture()
        self._line = ""
        self._blocks = {plate_id: BlockPlate(plate_id) for plate_id in ("chord", "pedal", "next")}
        self._plates = {plate_id: Plate(plate_id) for plate_id in PLATES}
        self._below = Horizontal(id="below")
        self._heights = dict.fromkeys(WORDS, 1)

    def compose(self) -> ComposeResult:
        plate, large = self._plates, self._blocks
        with Vertical(id="stand"):
            yield Horizontal(plate["title"], plate["state"], classes="line")
            yield Horizontal(plate["now-label"], plate["pedal-label"], classes="line label")
            yield Horizontal(large["chord"], large["pedal"], id="large")
            yield Horizontal(plate["coming"], plate["tempo"], classes="line")
            yield Horizontal(large["next"], plate["beats"], id="middle")
            with self._below:
                yield Vertical(*(plate[name] for name in BELOW))
                yield plate["roadmap"]
            yield plate["standing"]
            yield Horizontal(plate["ports"], plate["help"], classes="line")
        yield plate["small"]

    def show(self, picture: Picture, line: str = "") -> None:
        """Show this picture; ``line`` is what the desk itself has to say, in place of the nods that wait."""
        self._picture, self._line = picture, line
        if self.has_class("-small"):
            self._plates["small"].show(self._too_small())
            return
        (now_label, pedal_label), (now, pedal) = wording.labels(picture), wording.large(picture)
        texts = {
            "title": wording.title(picture),
            "state": f" {wording.state(picture)} ",
            "now-label": now_label,
            "pedal-label": pedal_label,
            "coming": wording.coming(picture),
            "tempo": wording.tempo(picture),
            "place": wording.place(picture),
            "said": line or wording.asked(picture),
            "standing": wording.standing(picture),
            "ports": wording.ports(picture),
            "help": "? help",
        }
        for plate_id, text in texts.items():
            self._plates[plate_id].show(text)
        for plate_id, symbol in (("chord", now), ("pedal", pedal), ("next", picture.next_chord)):
            self._blocks[plate_id].set(symbol)
        self.set_class(picture.rehearsing, "-rehearsing")
        feet = self._plates["feet"]
        feet.show(wording.feet(picture, feet.content_size.width))
        beats, heard, roadmap = (self._plates[plate_id] for plate_id in ("beats", "heard", "roadmap"))
        beats.show(wording.beat_boxes(picture.beats, picture.beat, *beats.content_size))
        heard.show(wording.heard(picture, self._show_words(picture)))
        roadmap.show(roadmap_content(wording.roadmap(picture.roadmap, picture.step, roadmap.content_size.height)))

    def _show_words(self, picture: Picture) -> int:
        """Verse below verse, as far as the latest of what was heard keeps its row. Returns how many rows that has."""
        free = self._below.content_size.height - 2 - picture.rehearsing  # place, said, feet
        rows = wording.word_rows(picture.words, picture.next_words, free - HEARD_KEEPS)
        for plate_id, lines, height in zip(WORDS, (picture.words, picture.next_words), rows, strict=True):
            if height != self._heights[plate_id]:
                self._heights[plate_id] = self._plates[plate_id].styles.height = height
            self._plates[plate_id].show(wording.words(lines, height))
        return max(0, free - sum(rows))

    def on_resize(self, event: Resize) -> None:
        small = event.size.width < LEAST[0] or event.size.height < LEAST[1]
        self.set_class(small, "-small")
        self.call_after_refresh(self.show_again)

    def show_again(self) -> None:
        self.show(self._picture, self._line)

    def _too_small(self) -> str:
        picture = self._picture
        now, pedal = wording.large(picture)
        chord = block(now, self.size.width - 2, min(7, self.size.height - 9))
        return (
            f"{chord}\npedal {pedal}   next {picture.next_chord}   {wording.place(picture)}\n"
            f"{wording.state(picture)}\n\nThis terminal has {self.size.width} columns and {self.size.height} rows; "
            f"the desk needs {LEAST[0]} and {LEAST[1]}.\nMake it larger, or its letters smaller. "
            "The music goes on, and every key works."
        )


def roadmap_content(lines: list[tuple[str, bool]]) -> Content:
    """Lines of the roadmap, the one that stands out in bold."""
    return Content("\n").join(
        Content.styled(text, "bold $now") if stands_out else Content(text) for text, stands_out in lines
    )
