"""A library: plain chart files in a folder, and an index of them that keeps itself up to date.

``index`` reads what has changed since the last time, by each file's time and size, and keeps it in the user's cache folder;
nothing is ever written into the library's own folder. ``search`` answers questions.
"""
