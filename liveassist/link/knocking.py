"""Knocking at a band's door without its token: is there still a band behind an address?

A band answers every stranger with a refusal; a port that another program has taken since does not.
"""

from __future__ import annotations

import json
import socket

from liveassist.link.messages import LOOKER, VERSION, write_line

PATIENCE = 1.0
"""Seconds for the answer."""
LONGEST_ANSWER = 4096
"""Bytes."""


def somebody_in(address: tuple[str, int]) -> bool:
    """Whether a band's end of the link answers there."""
    try:
        with socket.create_connection(address, timeout=PATIENCE) as line:
            line.sendall(write_line({"link": VERSION, "token": "", "role": LOOKER}))
            heard = b""
            while b"\n" not in heard and len(heard) < LONGEST_ANSWER:
                piece = line.recv(LONGEST_ANSWER)
                if not piece:
                    return False
                heard += piece
        answer = json.loads(heard.partition(b"\n")[0])
    except (OSError, ValueError, RecursionError):  # nobody, or somebody else
        return False
    return isinstance(answer, dict) and "refused" in answer
