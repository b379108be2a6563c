"""What band and desk say to each other, over loopback TCP with a token. The link knows neither of them.

``LinkServer`` is the band's end, ``LinkReader`` the desk's, ``FakeBand`` both in one for tests.
"""

from liveassist.link.fake import FakeBand, FakeReader
from liveassist.link.knocking import somebody_in
from liveassist.link.messages import (
    ASKS,
    LOOKER,
    NODDER,
    TOKEN_VARIABLE,
    VERSION,
    Heard,
    Picture,
    PortHealth,
    Request,
    Step,
    new_token,
)
from liveassist.link.reader import LinkReader, Reader
from liveassist.link.server import LinkServer

__all__ = [
    "ASKS",
    "LOOKER",
    "NODDER",
    "TOKEN_VARIABLE",
    "VERSION",
    "FakeBand",
    "FakeReader",
    "Heard",
    "LinkReader",
    "LinkServer",
    "Picture",
    "PortHealth",
    "Reader",
    "Request",
    "Step",
    "new_token",
    "somebody_in",
]
