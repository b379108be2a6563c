"""For all tests: nobody's own settings are read; a property test may take its time, because a busy machine is no fault of the
music; and what hangs on a real JACK server or a real terminal may be tried again, because there the whole machine plays along.
"""

from __future__ import annotations

from collections.abc import Iterator

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


@pytest.fixture(scope="session", autouse=True)
def _no_settings_of_ones_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The tests, and whatever they start, have an empty settings folder (XDG Base Directory Specification)."""
    with pytest.MonkeyPatch.context() as changed:
        changed.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("settings")))
        yield
