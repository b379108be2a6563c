"""Rehearsal: what a take tells about the player's timing and notes, in words, figures and pictures."""
