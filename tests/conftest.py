"""For all tests: a property test may take its time, because a busy machine is no fault of the music."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
