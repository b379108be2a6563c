"""Sound: an organ tone and a click through a sound device chosen by name."""
