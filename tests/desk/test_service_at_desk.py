"""What the desk shows between the songs of a service."""

from __future__ import annotations

from liveassist.desk import wording
from liveassist.desk.letters import block
from liveassist.link import Picture

PRAYER = Picture(
    state="tacet",
    title="Prayer",
    item="3 of 8",
    following="Salt and Thyme",
    first_of="Salt and Thyme",
    first_tempo="132",
    first_pedal="D",
    words=("flutes 8'",),
)


def test_the_first_pedal_note_and_the_tempo_stand_in_large_letters() -> None:
    assert wording.large(PRAYER) == ("132", "D")
    assert wording.labels(PRAYER) == ("next: Salt and Thyme, tempo", "first pedal")
    assert block("132", 56, 10).count("\n") == 9
    assert wording.title(PRAYER) == "3 of 8  ·  Prayer"
    assert wording.asked(PRAYER) == "after this: Salt and Thyme"


async def test_the_screen_shows_them(desk) -> None:
    async with desk() as running:
        await running.show(PRAYER)
        plates = running.app._playing
        assert plates._blocks["chord"].symbol == "132"
        assert plates._blocks["pedal"].symbol == "D"
        assert "flutes" in plates._plates["words"].shown
