"""The README's examples are true: every chart in it reads, unfolds and proofs clean, and its table of nods is the real one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from charts.notation import read_chart, write_chart
from charts.proof import proof
from charts.roadmap import unfold
from liveassist.arranging.feel_files import read_feel
from liveassist.arranging.feels import load_feels
from liveassist.band.nods import NODS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
CHARTS = re.findall(r"```chart\n(.*?)```", README, re.DOTALL)


def test_there_are_examples():
    assert len(CHARTS) >= 4


@pytest.mark.parametrize("text", CHARTS, ids=[re.search(r"title\s*=\s*(.*)", chart)[1] for chart in CHARTS])
def test_every_chart_of_the_readme_reads_and_proofs_clean(text):
    chart = read_chart(text)
    assert unfold(chart).changes
    assert [str(problem) for problem in proof(chart, feels=tuple(load_feels())) if problem.serious] == []
    assert write_chart(read_chart(write_chart(chart))) == write_chart(chart)


def test_the_table_of_nods_is_the_real_one():
    rows = re.findall(r"^\| `(.+?)` \| (.+?) \| (.+?) \|$", README, re.MULTILINE)
    assert rows == [(nod.key, nod.name, nod.says) for nod in NODS.values() if nod.key]


def test_the_files_it_names_are_there():
    for name in re.findall(r"`(demo_charts/[\w.-]+\.\w+|DEVELOPERS\.md)`", README):
        assert (ROOT / name).exists(), name


def test_its_feel_is_one():
    (text,) = re.findall(r"^```toml\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    assert read_feel(text).name == "quayside"
