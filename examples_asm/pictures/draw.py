"""Draws the pictures of the README: a real check in a terminal, and its page as a browser shows it by day and night.

Run it from anywhere: python examples_asm/pictures/draw.py. The page needs Chromium; where there is none only the
terminal is drawn.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from html import escape
from pathlib import Path

HERE = Path(__file__).parent
TOWER = HERE.parent / "belltower"
CHECK = ("check", "main.asm", "--clock", "1.8432MHz")
COMMAND = f"clockhop {' '.join(CHECK)}"
BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")

LETTER, LINE, EDGE, COLUMNS, LINES = 7.83, 18, 16, 118, 30
CODES = {"1": "b", "2": "d", "31": "r", "32": "g", "33": "y", "36": "c"}
STYLE = """
rect{fill:#f6f4ee}text{font:13px ui-monospace,Consolas,"DejaVu Sans Mono",monospace;fill:#1c211f;white-space:pre}
.b{font-weight:700}.d{fill:#565d58}.r{fill:#a3201a}.g{fill:#1a6744}.y{fill:#7d5200}.c{fill:#0f5673}
@media (prefers-color-scheme:dark){rect{fill:#121617}text{fill:#e8e6df}
.d{fill:#a3aca8}.r{fill:#ff9388}.g{fill:#7fd1a5}.y{fill:#e6b450}.c{fill:#86c7e3}}
"""


def clockhop(*arguments: str) -> str:
    """What the tool prints in the demo's folder, with its colours."""
    code = "from clockhop.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], cwd=TOWER, capture_output=True, text=True, check=False
    )
    assert done.stderr == "", done.stderr
    return done.stdout


def terminal() -> str:
    """The check as it looks in a terminal, as SVG."""
    printed = clockhop(*CHECK, "--colour", "always").splitlines()
    lines = [f"\x1b[2m$ {COMMAND}\x1b[0m", *(part for line in printed for part in broken(line))][:LINES]
    width, height = 2 * EDGE + COLUMNS * LETTER, 2 * EDGE + LINES * LINE
    rows = "".join(
        f'<text x="{EDGE}" y="{EDGE + LINE * n + 13}">{row(line)}</text>\n' for n, line in enumerate(lines)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height}" role="img">'
        f"<title>{COMMAND}</title><style>{STYLE}</style>"
        f'<rect width="100%" height="100%" rx="8"/>\n{rows}</svg>\n'
    )


def broken(line: str) -> list[str]:
    """A line in rows of whole words that fit; colour goes on into the next."""
    rows, row, length, colour = [], "", 0, ""
    for part in re.findall(r"\x1b\[[0-9;]*m|[^ \x1b]+| +", line):
        colour = part if part.startswith("\x1b") else colour
        width = 0 if part.startswith("\x1b") else len(part)
        if length + width > COLUMNS:
            rows.append(row)
            row, length = colour + " " * 4, 4
        row += part
        length += width
    return [*rows, row]


def row(line: str) -> str:
    """The line with its colours as classes."""
    made, classes = "", ""
    for codes, text in re.findall(r"(?:\x1b\[([0-9;]*)m)|([^\x1b]+)", line):
        if text:
            made += f'<tspan class="{classes}">{escape(text)}</tspan>' if classes else escape(text)
        else:
            classes = (
                "" if codes == "0" else f"{classes} {' '.join(CODES[c] for c in codes.split(';'))}".strip()
            )
    return made


def page(browser: str) -> None:
    """The top of the page, by day and by night."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.html"
        clockhop(*CHECK, "--form", "html", "-o", str(report))
        for name, scheme in (("day", 1), ("night", 0)):
            command = [browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
            command += [f"--user-data-dir={folder}/profile", "--window-size=1000,880", "--disable-lcd-text"]
            command += [f"--blink-settings=preferredColorScheme={scheme}"]
            command += [f"--screenshot={HERE / f'page-{name}.png'}", report.as_uri()]
            subprocess.run(command, check=True, capture_output=True)


if __name__ == "__main__":
    (HERE / "check.svg").write_text(terminal(), encoding="utf-8")
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found:
        page(found)
    print(*sorted(os.listdir(HERE)))
