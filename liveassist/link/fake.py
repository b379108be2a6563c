"""Both ends of the link in one, without sockets, for tests."""

from __future__ import annotations

from liveassist.link.messages import Picture, Request


class FakeBand:
    """Both ends in one, without sockets: ``publish`` here, and ``reader()`` is what a desk gets."""

    def __init__(self) -> None:
        self.asked: list[Request] = []
        self._reader = FakeReader(self.asked)

    def publish(self, picture: Picture) -> None:
        self._reader.newest = picture

    def requests(self) -> list[Request]:
        """The requests since the last call."""
        taken, self.asked[:] = list(self.asked), []
        return taken

    def reader(self) -> FakeReader:
        return self._reader

    def stop(self, *, goodbye: bool = False) -> None:
        """Die, or leave."""
        self._reader.gone, self._reader.left = True, goodbye

    def come_back(self) -> None:
        self._reader.gone = self._reader.left = False


class FakeReader:
    """The desk's end of a ``FakeBand``."""

    def __init__(self, asked: list[Request]) -> None:
        self.gone = False
        self.left = False
        self.refused = ""
        self.may_nod = True
        self.notice = ""
        self.newest: Picture | None = None
        self._asked = asked

    def read(self) -> Picture | None:
        newest, self.newest = self.newest, None
        return newest

    def send(self, request: Request) -> bool:
        if self.gone or not self.may_nod:
            return False
        self._asked.append(request)
        return True

    def close(self) -> None:
        self.gone = True
