"""`clockhop check --form html`: the page as it is written, and as a browser shows it."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[2] / "examples_asm/belltower"
NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
BROWSER = next((found for name in NAMES if (found := shutil.which(name))), None)

# What the page can't do itself, being without script: put its size and colours where they can be read.
MEASURE = """<script>
const root = document.documentElement, at = e => getComputedStyle(document.querySelector(e));
document.title = [root.scrollWidth > root.clientWidth ? "cut off" : "fits", innerWidth,
  at("body").backgroundColor, at("h1").color, at(".wave text").fontSize,
  at("main").fontFamily.includes("sans-serif")].join("|");
</script></body>"""


@pytest.fixture
def tower(folder):
    for path in DEMO.iterdir():
        shutil.copy(path, folder)
    return folder


def test_the_page_is_written_in_one_step_and_the_exit_status_is_that_of_every_form(clockhop, tower):
    result = clockhop("check", "main.asm", "--clock", "1.8432MHz", "--form", "html", "-o", "report.html")
    assert (result.status, result.out, result.err) == (1, "", "")
    page = (tower / "report.html").read_text(encoding="utf-8")
    assert page.startswith('<!DOCTYPE html>\n<html lang="en">')
    assert page.endswith("</html>\n")
    assert sorted(path.name for path in tower.iterdir() if path.name.startswith(".")) == []

    refused = clockhop("check", "main.asm", "--form", "html", "-o", "bells.asm")
    assert (refused.status, "stays as it is" in refused.err) == (2, True)


@pytest.mark.skipif(BROWSER is None, reason=f"no browser here: none of {', '.join(NAMES)}")
def test_a_browser_shows_it_by_day_and_night_and_400_pixels_wide_without_a_complaint(
    clockhop, tower, tmp_path
):
    clockhop("check", "main.asm", "--clock", "1.8432MHz", "--form", "html", "-o", "report.html")
    page = (tower / "report.html").read_text(encoding="utf-8")
    # A copy that may run the script above: the page itself forbids any.
    measured = re.sub(r"<meta http-equiv[^>]*>", "", page).replace("</body>", MEASURE)
    (tower / "measured.html").write_text(measured, encoding="utf-8")

    day, wide = shown(tower / "measured.html", tmp_path, "--window-size=1280,900")
    night, narrow = shown(
        tower / "measured.html", tmp_path, "--window-size=400,900", "--blink-settings=preferredColorScheme=0"
    )
    assert wide == ["fits", "1280", "rgb(250, 248, 243)", "rgb(28, 33, 31)", "12px", "true"]
    assert narrow == ["fits", "400", "rgb(18, 22, 23)", "rgb(232, 230, 223)", "12px", "true"]
    assert day == night == ""

    # With script forbidden it complains of nothing either, and prints.
    complaints, _ = shown(tower / "report.html", tmp_path, "--print-to-pdf=" + str(tmp_path / "report.pdf"))
    assert complaints == ""
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")


def shown(path: Path, profile: Path, *options: str) -> tuple[str, list[str]]:
    """What a browser complains of, and the title of the page in parts."""
    assert BROWSER is not None
    command = [
        BROWSER,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        f"--user-data-dir={profile / 'profile'}",
    ]
    dump = [] if any(option.startswith("--print") for option in options) else ["--dump-dom"]
    done = subprocess.run(
        [*command, "--enable-logging=stderr", *options, *dump, path.as_uri()],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    title = re.search(r"<title>(.*?)</title>", done.stdout)
    complaints = "\n".join(line for line in done.stderr.splitlines() if "CONSOLE" in line)
    return complaints, title[1].split("|") if title else []
