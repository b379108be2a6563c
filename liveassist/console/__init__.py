"""MIDI and real time: ports, the console profile, the runner, the guardian, takes."""
