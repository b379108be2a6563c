"""The page: what the organist prints. An organ score, chords in large type, a sheet for the whole service, a MIDI file."""
