"""The screen on the music desk."""
