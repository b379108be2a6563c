"""The screen on the music desk. ``python -m liveassist.desk HOST PORT`` shows the band that listens there.

How the desk's process ends tells whoever started it what the player wants:
"""

EXIT_LEFT = 0
"""The player left, and the band was asked to end if it was there and this desk gave the nods."""
EXIT_CRASHED = 1
"""The desk fell over, or its terminal has gone. The music goes on: start the desk again."""
EXIT_USAGE = 2
"""Host, port or token missing."""
EXIT_RESTART = 10
"""The band had stopped; start it again at its last place, silent until the nod ``in``."""
EXIT_REFUSED = 11
"""The band turned the desk away (another token or version) and the player left."""
