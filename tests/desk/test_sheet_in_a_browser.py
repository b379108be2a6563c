"""The drummer's sheet in a browser: who is let in. What textual-serve serves is asked directly, on this machine."""

from __future__ import annotations

import socket

import pytest

pytest.importorskip("textual_serve")

from aiohttp.test_utils import TestClient, TestServer
from aiohttp.web import GracefulExit

from liveassist.cli import main
from liveassist.desk.serving import COOKIE, MOST_WRONG, Gate, SheetServer


@pytest.fixture
def told() -> list[str]:
    return []


@pytest.fixture
def gate(told) -> Gate:
    return Gate(told.append)


@pytest.mark.parametrize(
    ("remote", "host", "known"),
    [
        ("127.0.0.1", "localhost:8460", True),
        ("127.0.0.1", "127.0.0.1:8460", True),
        ("::1", "[::1]:8460", True),
        ("192.168.1.20", "192.168.1.2:8460", False),
        ("192.168.1.20", "localhost:8460", False),
        ("127.0.0.1", "elsewhere.example:8460", False),
        ("", "localhost", False),
    ],
)
def test_this_machine_needs_no_code_and_others_do(gate, remote, host, known):
    assert gate.is_known(remote, host, "") is known


def test_a_code_is_good_once(gate, told):
    code = gate.code
    cookie = gate.admit(code.lower())
    assert cookie
    assert gate.is_known("192.168.1.20", "192.168.1.2:8460", cookie)
    assert gate.admit(code) is None
    assert gate.code != code
    assert gate.code in told[-1]


def test_after_too_many_wrong_codes_none_is_good(gate, told):
    code = gate.code
    for _ in range(MOST_WRONG):
        assert gate.admit("WRONG") is None
    assert gate.admit(code) is None
    assert gate.admit("") is None
    assert "nobody else is let in" in told[-1]


async def client_of(server: SheetServer) -> TestClient:
    client = TestClient(TestServer(await server._make_app()))
    await client.start_server()
    return client


async def test_from_elsewhere_every_path_is_closed_until_the_code_is_shown(told):
    server = SheetServer("true", "0.0.0.0", 8460, told.append)
    client = await client_of(server)
    elsewhere = {"Host": "organ.example:8460"}
    try:
        for path in ("/", "/ws", "/download/x", "/static/"):
            answer = await client.get(path, headers=elsewhere)
            assert answer.status == 401, path
        wrong = await client.get("/?code=NONSENSE", headers=elsewhere)
        assert wrong.status == 401
        right = await client.get(f"/?code={server.gate.code}", headers=elsewhere, allow_redirects=False)
        assert right.status == 303
        cookie = right.cookies[COOKIE].value
        assert right.cookies[COOKIE]["httponly"]
        page = await client.get("/", headers={**elsewhere, "Cookie": f"{COOKIE}={cookie}"})
        assert page.status == 200
        assert "ws://organ.example:8460/ws" in await page.text()
    finally:
        await client.close()


async def test_a_page_of_another_site_may_not_open_the_sheet(told):
    client = await client_of(SheetServer("true", "127.0.0.1", 8460, told.append))
    try:
        here = {"Host": "localhost:8460", "Origin": "http://elsewhere.example"}
        assert (await client.get("/ws", headers=here)).status == 403
    finally:
        await client.close()


def test_bound_to_this_machine_unless_asked():
    from liveassist.cli import _parser

    options = _parser()[0].parse_args(["drummer", "--browser"])
    assert options.bind is None


@pytest.fixture
def taken():
    with socket.create_server(("127.0.0.1", 0)) as other:
        yield other.getsockname()[1]


def test_it_is_announced_once_it_is_served(told):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]

    def tell(line):
        told.append(line)
        socket.create_connection(("127.0.0.1", port), timeout=5).close()
        raise GracefulExit  # as Ctrl-C

    SheetServer("true", "127.0.0.1", port, tell).serve()
    assert told == [f"the drummer's sheet is at http://127.0.0.1:{port} on this machine; Ctrl-C ends it"]


@pytest.mark.parametrize(
    ("host", "says"),
    [
        ("203.0.113.9", "--bind takes an address of this machine, such as 192.168.1.2"),  # RFC 5737: nobody's
        ("..", "that is no address; --bind takes an address of this machine"),
        ("127.0.0.1", "something is served at that port already; --port takes another"),
    ],
)
def test_where_it_cannot_be_served_nothing_is_announced(taken, capsys, host, says):
    assert main(["drummer", "--bind", host, "--port", str(taken)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert f"{host}, port {taken}: the sheet cannot be served there: " in told.err
    assert says in told.err
