"""The demo service, and the one in the README."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from liveassist.cli import main
from liveassist.service.file import read_service
from liveassist.service.order import proof_order, read_order

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "demo_charts" / "harbour_sunday.toml"


def test_the_demo_service_has_nothing_to_mend() -> None:
    assert proof_order(DEMO) == ()
    order = read_order(DEMO)
    assert len(order.entries) > len(order.songs) >= 4


def test_the_overview_of_the_demo_is_one_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["print", str(DEMO), "--overview", "--to", "-"]) == 0
    assert capsys.readouterr().out.count('<div class="page') == 1


def test_the_service_in_the_readme_is_one() -> None:
    (text,) = re.findall(r"^```service\n(.*?)^```", (ROOT / "README.md").read_text(encoding="utf-8"), re.M | re.S)
    service, problems = read_service(text, "readme.toml")
    assert problems == ()
    assert [bool(item.chart) for item in service.items] == [False, True]
