"""The page: theory, chord charts, their notation and their roadmaps. Standard library only, except ``exchange``."""
