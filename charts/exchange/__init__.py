"""The only door to other notations. music21 is imported inside functions here and nowhere else."""
