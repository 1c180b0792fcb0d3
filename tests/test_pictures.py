"""The pictures of the README: the one of a terminal is what the tool prints today; all are small and by themselves.

`pytest tests/test_pictures.py --write-golden` draws the terminal anew; the page needs a browser, see the guide.
"""

import re
import runpy
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).parent.parent
PICTURES = ROOT / "examples_asm" / "pictures"


def test_the_terminal_shows_what_check_prints(request):
    drawn = runpy.run_path(str(PICTURES / "draw.py"))["terminal"]()
    path = PICTURES / "check.svg"
    if request.config.getoption("--write-golden"):
        path.write_text(drawn, encoding="utf-8")
    assert drawn == path.read_text(encoding="utf-8")
    ElementTree.fromstring(drawn)
    assert "href" not in drawn
    assert "url(" not in drawn


def test_every_picture_of_the_readme_is_there_and_below_200_kb():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r'(?:src|srcset)="([^"]*)"|!\[[^]]+\]\(([^)]*)\)', text)
    paths = [ROOT / (first or second) for first, second in shown]
    assert {path.name for path in paths} == {"check.svg", "page-day.png", "page-night.png"}
    assert all(path.stat().st_size < 200_000 for path in paths)
