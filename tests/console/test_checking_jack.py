"""The bench check as a command, on real ports: Ctrl-C while the chord sounds leaves nothing on."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

PROFILE = """
[divisions.figure]
port = "console"
channel = 2
[parts.figure]
port = "organ"
channel = 2
"""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["ctrl-c", "term"])
def test_stopping_the_check_leaves_nothing_on(
    fake_console: Callable[..., Any],
    fake_organ: Callable[..., Any],
    until: Callable[..., None],
    tmp_path: Path,
    number: int,
) -> None:
    fake_console("console")
    organ = fake_organ("organ")
    profile = tmp_path / "church.toml"
    profile.write_text(PROFILE)
    command = [sys.executable, "-m", "liveassist", "console", "check", str(profile)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdin is not None
        process.stdin.write(b"\n")  # passes over the player's own hand
        process.stdin.flush()
        until(lambda: len(organ.sounding) == 3)
        process.send_signal(number)
        until(lambda: not organ.sounding)
        _, told = process.communicate(timeout=10.0)
    assert process.returncode == 130
    assert b"nothing sounds" in told
    assert {message[0] & 0xF0 for _, message in organ.heard} == {0x90, 0x80}
