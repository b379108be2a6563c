"""A service: one TOML file with everything that is played, in order, and what is otherwise today than in the charts.

``file`` reads it, ``day`` makes the chart of the day from an item and its chart, ``order`` does both for a whole service and
the files it names. Whatever is wrong is told all at once, as problems with the file, the item and the field.
"""
