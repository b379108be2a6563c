"""The link between band and desk, over real loopback sockets: newest wins, the music never waits, one may nod."""

from __future__ import annotations

import json
import socket
import struct
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.link import (
    LOOKER,
    VERSION,
    FakeBand,
    Heard,
    LinkReader,
    LinkServer,
    Picture,
    PortHealth,
    Request,
    Step,
    messages,
    new_token,
    server,
    somebody_in,
)

TOKEN = "a token for the rehearsal"
AGAIN = Request(ask="nod", name="again")


@pytest.fixture
def band(monkeypatch: pytest.MonkeyPatch) -> Iterator[LinkServer]:
    monkeypatch.setattr(server, "TICK", 0.002)
    with LinkServer(TOKEN) as made:
        yield made


def until(question: Callable[[], object], seconds: float = 30.0) -> object:
    """Ask until the answer is something; sockets take their time."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if answer := question():
            return answer
        time.sleep(0.001)
    raise AssertionError(f"no answer within {seconds} s")


def met(band: LinkServer, *, token: str = TOKEN, role: str = "nod") -> LinkReader:
    """A reader that has been let in and has seen a picture."""
    reader = LinkReader(band.address, token, role)
    until(reader.read)
    return reader


class RawReader:
    """A reader that speaks by hand."""

    def __init__(self, band: LinkServer, hello: dict[str, object] | bytes) -> None:
        self.line = socket.socket()
        self.line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        self.line.settimeout(5.0)
        self.line.connect(band.address)
        self.say(hello)

    def say(self, words: dict[str, object] | bytes) -> None:
        self.line.sendall(words if isinstance(words, bytes) else json.dumps(words).encode() + b"\n")

    def hear(self, word: bytes) -> None:
        """Read until the band has said this."""
        heard = b""
        while word not in heard:
            heard += self.line.recv(1 << 16)

    def rest(self) -> list[dict[str, object]]:
        """Everything until the band hangs up."""
        heard = b""
        while piece := self.line.recv(1 << 16):
            heard += piece
        assert heard[-1:] in (b"", b"\n"), "the band stopped in the middle of a line"
        return [json.loads(line) for line in heard.splitlines()]


LONG_WORDS = ("la " * 4000,)
"""Makes a picture larger than a third of the sockets' buffers."""
HELLO: dict[str, object] = {"link": VERSION, "token": TOKEN, "role": "nod"}


# --- pictures and requests as JSON


names = st.text(max_size=8)
numbers = st.floats(allow_nan=False, allow_infinity=False)
pictures = st.builds(
    Picture,
    at=numbers,
    chord=names,
    next_in=st.none() | numbers,
    roadmap=st.lists(st.builds(Step, name=names, note=names), max_size=3).map(tuple),
    heard=st.lists(st.builds(Heard, at=numbers, text=names, kind=names), max_size=3).map(tuple),
    ports=st.lists(st.builds(PortHealth, role=names, name=names, well=st.booleans(), text=names), max_size=2).map(
        tuple
    ),
    words=st.lists(names, max_size=3).map(tuple),
    origins=st.lists(st.tuples(names, names, names), max_size=2).map(tuple),
)


@given(pictures)
def test_a_picture_arrives_as_it_was_sent(picture: Picture) -> None:
    line = messages.write_line({"picture": picture})
    assert line.count(b"\n") == 1
    assert messages.read_picture(json.loads(line)["picture"]) == picture


def test_an_older_desk_ignores_what_a_newer_band_adds() -> None:
    stated = {"chord": "G/B", "weather": "fine", "roadmap": [{"name": "Verse", "colour": 3}]}
    assert messages.read_picture(stated) == Picture(chord="G/B", roadmap=(Step(name="Verse"),))


def test_an_older_band_leaves_out_what_it_does_not_know() -> None:
    assert messages.read_picture({}) == Picture()


@pytest.mark.parametrize("stated", [None, 7, "G/B", [], {"heard": [{"text": "no time"}]}, {"roadmap": ["Verse"]}])
def test_what_is_no_picture_is_refused(stated: object) -> None:
    with pytest.raises(ValueError):
        messages.read_picture(stated)


@pytest.mark.parametrize(
    ("stated", "told"),
    [
        ({"ask": "dance"}, "nod, cue, leave"),
        ({"ask": "nod", "name": 3}, "text"),
        ({"ask": "nod", "name": "vamp", "argument": "two"}, "whole number"),
        ({"ask": "nod", "name": "vamp", "argument": True}, "whole number"),
        ({}, "ask"),
        (["nod"], "JSON object"),
    ],
)
def test_an_unclear_request_says_what_would_do(stated: object, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        messages.read_request(stated)


def test_a_request_arrives_as_it_was_sent() -> None:
    request = Request(ask="nod", name="to", argument=4)
    assert messages.read_request(json.loads(messages.write_line({"request": request}))["request"]) == request


# --- the door


def test_the_first_line_needs_the_token(band: LinkServer) -> None:
    reader = LinkReader(band.address, "another token")
    until(lambda: reader.read() or reader.refused)
    assert "token" in reader.refused
    assert not reader.may_nod
    assert not reader.send(AGAIN)


def test_another_version_is_refused_with_both_numbers(band: LinkServer) -> None:
    raw = RawReader(band, HELLO | {"link": VERSION + 1})
    (answer,) = raw.rest()
    assert str(VERSION) in str(answer["refused"])
    assert str(VERSION + 1) in str(answer["refused"])


@pytest.mark.parametrize(
    "words",
    [
        pytest.param(b"GET / HTTP/1.1\r\n\r\n", id="a browser"),
        pytest.param(b"[]\n", id="a list"),
        pytest.param(b"[" * 4000 + b"\n", id="lists without end"),
        pytest.param(b"\xff\xfe\n", id="no text"),
        pytest.param(b"x" * 10_000, id="no end"),
        pytest.param(b'{"link": 1, "token": 5}\n', id="a number for a token"),
        pytest.param(b'{"link": 1, "token": "\xc3\xa9"}\n', id="a token beyond ASCII"),
    ],
)
def test_a_stranger_is_turned_away_and_told_why(band: LinkServer, words: bytes) -> None:
    answers = RawReader(band, words).rest()
    assert list(answers[-1]) == ["refused"]
    band.publish(Picture(at=1))
    assert met(band).may_nod, "the band plays on for its own desk"


def test_a_stranger_sees_no_picture(band: LinkServer) -> None:
    band.publish(Picture(chord="D"))
    answers = RawReader(band, HELLO | {"token": "wrong"}).rest()
    assert all("picture" not in answer for answer in answers)


def test_tokens_differ() -> None:
    assert new_token() != new_token()


# --- newest wins, and the music never waits


def test_a_new_reader_gets_the_newest_picture(band: LinkServer) -> None:
    for at in range(10):
        band.publish(Picture(at=at))
    reader = LinkReader(band.address, TOKEN)
    picture = until(reader.read)
    assert isinstance(picture, Picture)
    assert picture.at == 9


def test_a_slow_reader_gets_whole_lines_and_skips_to_the_newest(band: LinkServer) -> None:
    slow = RawReader(band, HELLO)
    band.publish(Picture(at=0))
    healthy = met(band)
    last = 100
    for at in range(1, last + 1):  # the healthy reader sees them all, so each has been offered to the slow one
        band.publish(Picture(at=at, words=LONG_WORDS))
        until(lambda: (seen := healthy.read()) is not None and seen.words == LONG_WORDS)
    heard, shown = b"", []
    while last not in shown:
        heard += slow.line.recv(1 << 16)
        *lines, heard = heard.split(b"\n")
        shown += [message["picture"]["at"] for line in lines if "picture" in (message := json.loads(line))]
    assert shown == sorted(shown)
    assert len(shown) < last / 2, "buffers may hold some pictures, not all of them"


def test_ten_thousand_pictures_cost_the_same_with_a_reader_that_never_reads() -> None:
    def seconds(band: LinkServer) -> float:
        blank = Picture(words=("la " * 200,))
        begin = time.thread_time()
        for at in range(10_000):
            band.publish(replace(blank, at=at))
        return time.thread_time() - begin

    with LinkServer(TOKEN) as alone, LinkServer(TOKEN) as watched:
        raw = RawReader(watched, HELLO)
        until(lambda: raw.line.recv(1))
        without = min(seconds(alone) for _ in range(5))
        with_reader = min(seconds(watched) for _ in range(5))
    assert with_reader < 5 * without


def test_a_reader_stuck_for_long_is_dropped(band: LinkServer, monkeypatch: pytest.MonkeyPatch) -> None:
    stuck = RawReader(band, HELLO)
    band.publish(Picture(at=0))
    waiting = met(band)
    assert not waiting.may_nod
    monkeypatch.setattr(server, "STUCK", 0.05)
    numbers = count(1)

    def may_nod_now() -> bool:
        band.publish(Picture(at=next(numbers), words=LONG_WORDS))
        waiting.read()
        return waiting.may_nod

    assert until(may_nod_now)
    stuck.line.close()


def test_who_never_says_hello_is_dropped(band: LinkServer, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "STUCK", 0.02)
    assert RawReader(band, b"").rest() == []


# --- one may nod


def test_the_first_nods_and_the_second_looks(band: LinkServer) -> None:
    band.publish(Picture())
    first, second = met(band), met(band)
    assert first.may_nod
    assert not second.may_nod
    assert first.send(AGAIN)
    assert not second.send(AGAIN)
    assert until(band.requests) == [AGAIN]


def test_a_looker_never_leads(band: LinkServer) -> None:
    band.publish(Picture())
    looker, nodder = met(band, role=LOOKER), met(band)
    assert not looker.may_nod
    assert nodder.may_nod


def test_a_sheet_that_connects_and_dies_a_hundred_times_costs_the_desk_nothing(band: LinkServer) -> None:
    band.publish(Picture())
    desk = met(band)
    for number in range(100):
        sheet = RawReader(band, {**HELLO, "role": LOOKER} if number % 3 else b"")
        if number % 2:
            sheet.hear(b"picture" if number % 3 else b"")
        sheet.line.setsockopt(
            socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0)
        )  # it hangs up without a word
        sheet.line.close()
        band.publish(Picture(title=f"bar {number}"))
    assert until(lambda: (picture := desk.read()) is not None and picture.title == "bar 99")
    assert desk.send(AGAIN)
    assert until(band.requests) == [AGAIN]
    assert until(lambda: len(band._guests) == 1)


def test_a_desk_that_nods_out_of_turn_is_told_so(band: LinkServer) -> None:
    band.publish(Picture())
    first = met(band)
    raw = RawReader(band, HELLO)
    raw.say({"request": {"ask": "cue"}})
    raw.hear(b"look only")
    first.send(AGAIN)
    assert until(band.requests) == [AGAIN]


def test_when_the_leader_leaves_the_next_may_nod(band: LinkServer) -> None:
    band.publish(Picture())
    first, second = met(band), met(band)
    first.close()
    until(lambda: second.read() or second.may_nod)
    assert second.send(AGAIN)
    assert until(band.requests) == [AGAIN]


def test_an_unclear_request_is_answered_and_the_next_one_heard(band: LinkServer) -> None:
    raw = RawReader(band, HELLO)
    raw.say({"request": {"ask": "dance"}})
    raw.hear(b"dance")
    raw.say({"request": {"ask": "nod", "name": "again"}})
    assert until(band.requests) == [AGAIN]


def test_requests_may_go_straight_to_a_queue() -> None:
    taken: list[Request] = []
    with LinkServer(TOKEN, taken.append) as band:
        band.publish(Picture())
        met(band).send(AGAIN)
        until(lambda: taken)
        assert taken == [AGAIN]
        assert band.requests() == []


# --- coming and going


def test_no_band_yet_is_no_error() -> None:
    with closing(socket.create_server(("127.0.0.1", 0))) as door:
        address = door.getsockname()
    reader = LinkReader(address, TOKEN)
    assert reader.read() is None
    assert reader.gone
    assert not reader.left


def test_the_last_picture_and_a_goodbye_arrive_when_the_band_ends(band: LinkServer) -> None:
    band.publish(Picture(at=1))
    reader = met(band)
    band.publish(Picture(at=2, state="fine"))
    band.close()
    last = until(reader.read)
    assert isinstance(last, Picture)
    assert last.state == "fine"
    until(lambda: reader.read() or reader.gone)
    assert reader.left
    assert not reader.may_nod


def test_the_desk_comes_back_to_a_band_that_comes_back() -> None:
    now = [0.0]
    band = LinkServer(TOKEN)
    band.publish(Picture(at=1))
    reader = LinkReader(band.address, TOKEN, clock=lambda: now[0])
    until(reader.read)
    band.close()
    until(lambda: reader.read() or reader.gone)
    with LinkServer(TOKEN, host=band.address[0], port=band.address[1]) as again:
        again.publish(Picture(at=2))
        now[0] += 1.0
        picture = until(reader.read)
        assert isinstance(picture, Picture)
        assert picture.at == 2
        assert reader.may_nod
        assert not reader.gone
        assert not reader.left


def test_the_last_request_arrives_though_pictures_lie_unread(band: LinkServer) -> None:
    band.publish(Picture())
    reader = met(band)
    for at in range(1, 4):
        band.publish(Picture(at=at))
        time.sleep(0.01)
    assert reader.send(Request(ask="leave"))
    reader.close()
    assert until(band.requests) == [Request(ask="leave")]


def test_a_desk_that_was_dropped_comes_back_without_alarm(band: LinkServer, monkeypatch: pytest.MonkeyPatch) -> None:
    band.publish(Picture(at=0, words=LONG_WORDS))
    reader = met(band)
    monkeypatch.setattr(server, "MOST_OWED", 0)  # the next picture costs it its place
    band.publish(Picture(at=1, words=LONG_WORDS))
    until(lambda: not band._guests)
    monkeypatch.setattr(server, "MOST_OWED", 1 << 20)
    alarms = []

    def seen_again() -> bool:
        picture = reader.read()
        alarms.append(reader.gone)
        return picture is not None and picture.at == 1

    assert until(seen_again)
    assert not any(alarms)


def test_a_silent_band_is_taken_for_gone() -> None:
    now = [0.0]
    with closing(socket.create_server(("127.0.0.1", 0))) as door:
        reader = LinkReader(door.getsockname(), TOKEN, clock=lambda: now[0])
        reader.read()
        assert not reader.gone
        now[0] += 60.0
        reader.read()
        assert reader.gone


def test_a_band_with_nothing_new_says_that_it_is_there(band: LinkServer, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "ALIVE", 0.01)
    RawReader(band, HELLO).hear(b'"alive"')


# --- the fake pair


def test_the_fake_pair_answers_as_the_real_one() -> None:
    band = FakeBand()
    reader = band.reader()
    assert reader.read() is None
    band.publish(Picture(at=1))
    band.publish(Picture(at=2))
    picture = reader.read()
    assert picture is not None
    assert picture.at == 2
    assert reader.read() is None
    assert reader.send(AGAIN)
    assert band.requests() == [AGAIN]
    assert band.requests() == []
    band.stop()
    assert reader.gone
    assert not reader.send(AGAIN)


def test_real_and_fake_reader_show_the_same_face() -> None:
    fake, real = FakeBand().reader(), LinkReader(("127.0.0.1", 1), TOKEN)
    for name in ("gone", "left", "refused", "may_nod", "notice"):
        assert type(getattr(fake, name)) is type(getattr(real, name))


# -- knocking ---------------------------------------------------------------------------------------------------------


def test_a_stranger_who_knocks_learns_whether_a_band_is_in() -> None:
    with LinkServer("token") as band:
        address = band.address
        assert somebody_in(address)
    assert not somebody_in(address)


@pytest.mark.parametrize("answer", [b"HTTP/1.1 400 Bad Request\r\n", b"[]\n", b'{"link": 1}\n', b""])
def test_a_port_that_another_program_has_taken_is_no_band(answer: bytes) -> None:
    with socket.create_server(("127.0.0.1", 0)) as door:

        def other_program() -> None:
            line, _ = door.accept()
            with line:
                line.recv(100)
                line.sendall(answer)

        thread = threading.Thread(target=other_program)
        thread.start()
        assert not somebody_in(door.getsockname()[:2])
        thread.join()
