"""How often the heavy properties are tried: few times in every run of the tests, many times when it is asked for.

``LIVEASSIST_TRIALS=20 pytest tests/band/test_properties.py`` tries twenty times as many made-up cases.
"""

from __future__ import annotations

import os

from hypothesis import settings

TIMES = int(os.environ.get("LIVEASSIST_TRIALS", "1"))


def trials(few: int) -> settings:
    """A property is tried on so many made-up cases, times what the environment asks for."""
    return settings(max_examples=few * TIMES, deadline=None)
