"""What every command that makes sound says first, and once, for good, at the first start with sound."""

from __future__ import annotations

import sys
from pathlib import Path

from platformdirs import user_data_path

CAUTION = (
    "Sound in the ears can harm hearing, and harm done stays. Start with the volume down and raise it only as far as you"
    " need; both ears at a lower level are safer than one at a higher. The longer the session, the lower the level should"
    " be. Take breaks. Ringing or dull hearing afterwards means that it was too loud. This tool does not know the level at"
    " your ear: local rules and a hearing professional come before anything said here."
)
SOURCES = (
    "What is published: WHO-ITU H.870 (safe listening) 80 dB(A) for 40 hours a week, 75 dB(A) for children and sensitive"
    " ears; NIOSH (work) 85 dB(A) for 8 hours a day, and half the time for every 3 dB more; OSHA (law in the US) 90 dB(A)"
    " for 8 hours. One ear alone needs some 6 dB more to sound as loud. In-ears by themselves protect nobody: players set"
    " them less than 1 dB below loudspeakers on a stage (Federman & Ricketts 2008). A plug that is pulled or a radio that"
    " fails can make peaks above 130 dB: keep the limiter of your in-ear system on. This is not a medical device; ask your"
    " hearing professional."
)
READ = "caution-read"
"""The file in the user's data folder that says that the caution has been shown."""


def at_first_start(folder: Path | None = None) -> bool:
    """Show the caution and its sources if they have not been shown on this machine; where there is a terminal, until Enter.
    Returns whether they were shown."""
    mark = (folder or user_data_path("liveassist")) / READ
    if mark.exists():
        return False
    print(f"{CAUTION}\n\n{SOURCES}\n", flush=True)
    if sys.stdin.isatty() and sys.stdout.isatty():
        input("Enter, when you have read this: ")
    try:
        mark.parent.mkdir(parents=True, exist_ok=True)
        mark.write_text("shown\n", encoding="utf-8")
    except OSError:  # then it is shown again
        pass
    return True
