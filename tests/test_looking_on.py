"""Drummer's views of a band that plays: they look, they never nod, and they may die as often as they like."""

from __future__ import annotations

import socket
import struct
import time
from dataclasses import replace

import pytest

from liveassist.commands.drummer import find
from liveassist.console import at_work
from liveassist.link import LOOKER, NODDER, LinkReader, LinkServer, Picture, Request

PICTURE = Picture(state="playing", section="Verse", bars_left=3)


@pytest.fixture
def server():
    with LinkServer("whole", look_token="look") as link:
        yield link


def until(question, seconds: float = 30.0):
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if answer := question():
            return answer
        time.sleep(0.01)
    raise AssertionError(f"not within {seconds} s")


@pytest.mark.parametrize("role", [LOOKER, NODDER])
def test_with_the_token_for_looking_nobody_nods_whatever_they_ask(server, role):
    reader = LinkReader(server.address, "look", role)
    server.publish(PICTURE)
    assert until(reader.read) == PICTURE
    assert not reader.may_nod
    assert not reader.send(Request(ask="nod", name="cut"))
    reader._line.sendall(b'{"request": {"ask": "nod", "name": "cut"}}\n')  # somebody who does not keep to the rules
    until(lambda: reader.read() or reader.notice)
    assert server.requests() == []
    reader.close()


def test_a_view_does_not_take_the_nods_from_the_desk(server):
    view = LinkReader(server.address, "look", NODDER)
    server.publish(PICTURE)
    until(view.read)
    desk = LinkReader(server.address, "whole", NODDER)
    until(desk.read)
    assert desk.may_nod
    view.close()
    desk.close()


def test_without_a_token_for_looking_an_empty_one_opens_nothing():
    with LinkServer("whole") as link:
        reader = LinkReader(link.address, "", LOOKER)
        until(lambda: reader.read() or reader.refused)
        assert reader.refused


def test_a_view_that_connects_and_dies_a_hundred_times_leaves_the_desk_as_it_was(server):
    """Each dies in its own way: at once, after hello, with pictures unread, by a reset."""
    desk = LinkReader(server.address, "whole", NODDER)
    server.publish(PICTURE)
    until(desk.read)
    for number in range(100):
        line = socket.create_connection(server.address, timeout=2.0)
        if number % 4:
            line.sendall(b'{"link": 1, "token": "look", "role": "look"}\n')
        if number % 4 == 2:
            line.recv(1)
        if number % 4 == 3:
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        line.close()
        if number % 10 == 0:
            shown = replace(PICTURE, bar=number)
            server.publish(shown)
            assert until(desk.read) == shown
    assert desk.may_nod
    assert desk.send(Request(ask="nod", name="again"))
    assert until(server.requests) == [Request(ask="nod", name="again")]
    desk.close()


def test_the_sheet_finds_the_band_by_itself(server, tmp_path, monkeypatch):
    monkeypatch.setattr(at_work, "folder", lambda: tmp_path)
    assert find() is None
    host, port = server.address
    take_down = at_work.put_up(at_work.AtWork(title="Quay", ports=(), host=host, port=port, look="look"))
    assert all(path.stat().st_mode & 0o077 == 0 for path in tmp_path.glob("*.json"))
    reader = find()
    server.publish(PICTURE)
    assert until(reader.read) == PICTURE
    assert not reader.may_nod
    reader.close()
    take_down()
    assert find() is None
