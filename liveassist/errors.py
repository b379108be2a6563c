"""Errors that a player can do something about: the command line and the desk show the message and nothing else."""

from __future__ import annotations


class PlayerError(Exception):
    """Something the player can mend. The message says what was read, where, and what would have been accepted."""
