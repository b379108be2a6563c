"""For all tests: a property test may take its time, because a busy machine is no fault of the music; and what hangs on a real
JACK server or a real terminal may be tried again, because there the whole machine plays along.
"""

from __future__ import annotations

import pytest
from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")

REAL = frozenset({"jack", "terminal"})
"""Fixtures that are real parts of the machine."""
AGAIN = 2


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if REAL & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.flaky(reruns=AGAIN))
