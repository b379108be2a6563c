"""The pure core: no clock, no ports, no screen, no files, no dice of its own."""
