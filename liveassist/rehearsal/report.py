"""The report: one HTML file with words, pictures and figures, for screen and printer.

Pictures are drawn by matplotlib as SVG and stand in the file itself: no network, no other file. Colours are told apart by
people who are blind to some (Okabe and Ito's set, 2008, from memory), and every colour has a shape or a place of its own, so
that a print in grey tells the same.
"""

from __future__ import annotations

import html
import io
from collections.abc import Iterator, Sequence
from statistics import fmean
from typing import TYPE_CHECKING, Any

from liveassist.rehearsal.history import Entry
from liveassist.rehearsal.matching import EXTRA, MISSED, RIGHT, WRONG
from liveassist.rehearsal.review import Review
from liveassist.rehearsal.telling import JUDGED, bar_name, figures, note_name, summary
from liveassist.rehearsal.timing import CLOSE, NEAR

if TYPE_CHECKING:
    from matplotlib.axes import Axes

EARLY, LATE, FAULT, PLAIN = "#0072B2", "#D55E00", "#000000", "#666666"
WIDTH = 8.2
"""Inches: a page's width without its margins."""
STYLE = """
body { font: 12pt/1.45 Georgia, "Times New Roman", serif; max-width: 46em; margin: 2em auto; padding: 0 1em; color: #111; }
h1 { font-size: 1.5em; margin-bottom: 0; } h2 { font-size: 1.1em; margin: 1.6em 0 .3em; }
pre { white-space: pre-wrap; } svg { width: 100%; height: auto; } table { border-collapse: collapse; font-size: .9em; }
td, th { padding: .15em .7em; text-align: right; } td:first-child, th:first-child { text-align: left; }
th { border-bottom: 1px solid #111; } .small { font-size: .85em; color: #444; }
@media print { body { margin: 0; max-width: none; } h2 { break-after: avoid; } svg { break-inside: avoid; } }
"""


def report(review: Review, takes: Sequence[Entry] = (), *, made: str = "") -> str:
    """The report of a take, as the text of an HTML file. ``takes``: those of the same song so far, in order."""
    title = review.route.chart.title
    parts = [
        "<!DOCTYPE html>",
        f'<html lang="en"><head><meta charset="utf-8"><title>{html.escape(title)}: how it went</title>',
        f'<meta name="viewport" content="width=device-width"><style>{STYLE}</style></head><body>',
        f"<h1>{html.escape(title)}</h1>",
        f'<p class="small">{html.escape(made)}</p>' if made else "",
        "<p>" + "<br>".join(html.escape(sentence) for sentence in summary(review)) + "</p>",
    ]
    if review.whole is not None:
        against = "the click" if review.reference == "click" else "the feet's own even run"
        parts += ["<h2>Over the song</h2>", _svg(_over_the_song, review)]
        parts += [
            f'<p class="small">Each note against {against}, without your usual lead and drift: above the line late, below '
            "early. The grey bands are 20 and 50 ms. A cross is a wrong note, a gap with a tick below a missed one.</p>"
        ]
        parts += ["<h2>How far, how often</h2>", _svg(_distribution, review)]
        parts += ["<h2>By section</h2>", _svg(_by_section, review)]
        if len(takes) > 1:
            parts += ["<h2>From take to take</h2>", _svg(_progress, takes)]
        parts += ["<h2>Figures</h2>", f"<pre>{html.escape(chr(10).join(figures(review)))}</pre>"]
    parts += ["<h2>Notes to look at</h2>", *_faults(review)]
    parts += ["<h2>How it is judged</h2>", *(f'<p class="small">{html.escape(line)}</p>' for line in JUDGED)]
    parts += ["</body></html>"]
    return "\n".join(part for part in parts if part)


def _faults(review: Review) -> Iterator[str]:
    told = review.of_kind(WRONG, MISSED, EXTRA)
    if not told:
        yield "<p>None: every pedal note was right.</p>"
        return
    yield "<table><tr><th>where</th><th>beat</th><th>what</th><th>played</th><th>written</th></tr>"
    for one in told:
        bar = review.route.bars[one.bar]
        played = "" if one.played is None else note_name(bar, one.played % 12)
        written = "" if one.written is None else note_name(bar, one.written)
        cells = [bar_name(bar), f"{round(4 * one.beat) / 4:g}", one.what or one.kind, played, written]
        yield "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in cells) + "</tr>"
    yield "</table>"


def _svg(draw: Any, what: Any) -> str:
    """A picture as SVG text, the same bytes for the same take."""
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "liveassist", "svg.fonttype": "none", "font.size": 9}):
        from matplotlib.figure import Figure

        figure = Figure(figsize=(WIDTH, 2.6), layout="constrained")
        draw(figure.subplots(), what)
        file = io.StringIO()
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
    text = file.getvalue()
    return text[text.index("<svg") :]


def _bands(axes: Axes, *, across: bool = True) -> None:
    band = axes.axhspan if across else axes.axvspan
    for limit, shade in ((NEAR, "#f0f0f0"), (CLOSE, "#dddddd")):
        band(-1000 * limit, 1000 * limit, color=shade, lw=0, zorder=0)


def _over_the_song(axes: Axes, review: Review) -> None:
    _bands(axes)
    right = [(one.at, 1000 * one.judged) for one in review.of_kind(RIGHT) if one.judged is not None]
    for side, colour, shape in ((1, LATE, "^"), (-1, EARLY, "v")):
        chosen = [(at, error) for at, error in right if error * side > 0 or (error == 0 and side > 0)]
        axes.plot([at for at, _ in chosen], [error for _, error in chosen], shape, color=colour, ms=4)
    reach = max([80.0, *(abs(error) for _, error in right)]) * 1.15
    axes.plot([one.at for one in review.of_kind(WRONG)], [0.0] * len(review.of_kind(WRONG)), "x", color=FAULT, ms=7)
    missed = [one.at for one in review.of_kind(MISSED)]
    axes.plot(missed, [-reach * 0.95] * len(missed), "|", color=FAULT, ms=9, mew=2)
    step = None
    for one in review.remarks:
        bar = review.route.bars[one.bar]
        if bar.step != step and one.kind != EXTRA:
            step = bar.step
            axes.axvline(one.at, color=PLAIN, lw=0.6, zorder=1)
            axes.text(one.at, reach * 0.98, f" {bar.section}", fontsize=8, va="top")
    axes.set(ylim=(-reach, reach), ylabel="ms", xlabel="seconds")


def _distribution(axes: Axes, review: Review) -> None:
    errors = [1000 * one.judged for one in review.of_kind(RIGHT) if one.judged is not None]
    _bands(axes, across=False)
    reach = max(60.0, *(abs(error) for error in errors)) * 1.05
    axes.hist(errors, bins=31, range=(-reach, reach), color=EARLY, edgecolor="white")
    axes.set(xlabel="← early · ms · late →", ylabel="notes")


def _by_section(axes: Axes, review: Review) -> None:
    names = [name for name, _ in review.sections]
    means = [1000 * row.mean for _, row in review.sections]
    axes.barh(names, means, xerr=[1000 * row.sd for _, row in review.sections], color=EARLY, ecolor=PLAIN, capsize=3)
    axes.axvline(0, color=FAULT, lw=0.8)
    axes.invert_yaxis()
    axes.set(xlabel="← early · ms, with the SD · late →")


def _progress(axes: Axes, takes: Sequence[Entry]) -> None:
    known = [(number, take.sd) for number, take in enumerate(takes, 1) if take.sd is not None]
    axes.plot([number for number, _ in known], [sd for _, sd in known], "o-", color=EARLY, label="SD, ms")
    axes.set(ylim=(0, None), xlabel="take", ylabel="SD, ms")
    right = axes.twinx()
    shares = [100 * take.right / max(1, take.asked) for take in takes]
    right.plot(range(1, len(takes) + 1), shares, "s--", color=LATE, label="right notes, %")
    right.set(ylim=(0, 105), ylabel="right notes, %")
    lines = [*axes.get_lines(), *right.get_lines()]
    axes.legend(lines, [str(line.get_label()) for line in lines], loc="lower left", frameon=False)


# -- in the terminal --------------------------------------------------------------------------------------------------


def strip(review: Review, width: int = 72, height: int = 4) -> Iterator[str]:
    """The errors over the song as rows of signs: late above, early below the line; x wrong, o missed."""
    remarks = [one for one in review.of_kind(RIGHT, WRONG, MISSED) if one.kind != RIGHT or one.judged is not None]
    if not remarks:
        return
    first, last = remarks[0].at, max(one.at for one in remarks) + 1e-9
    cells: list[list[str]] = [[" "] * width for _ in range(2 * height + 1)]
    cells[height] = ["·"] * width
    columns: dict[int, list[float]] = {}
    for one in remarks:
        column = min(width - 1, int((one.at - first) / (last - first) * width))
        if one.kind != RIGHT:
            cells[height][column] = "x" if one.kind == WRONG else "o"
        elif one.judged is not None:
            columns.setdefault(column, []).append(one.judged)
    for column, errors in columns.items():
        mean = fmean(errors)
        rows = min(height, round(abs(mean) / CLOSE))
        for row in range(1, rows + 1):
            cells[height - row if mean > 0 else height + row][column] = "█" if row < rows or rows == 1 else "▓"
    for number, signs in enumerate(cells):
        label = f"{20 * (height - number):+4d} " if number != height else "   0 "
        yield label + "".join(signs).rstrip()
