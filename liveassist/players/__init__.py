"""Imagined players: for the demo, the tests and the benchmarks."""
