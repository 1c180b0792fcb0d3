"""A bell tower of any height: the demo's modules over and over, each floor with names of its own."""

import re
from collections.abc import Iterator
from pathlib import Path

DEMO = Path(__file__).parents[2] / "examples_asm" / "belltower"
_FLOOR = "".join(
    (DEMO / name).read_text() for name in ("panel.asm", "display.asm", "serial.asm", "bells.asm")
)
_NAMES = frozenset(re.findall(r"^[A-Z]+", _FLOOR, re.MULTILINE))
_INCLUDES = re.compile(r'(?: +INCLUDE "(?:panel|display|serial|bells)\.asm"\n)+')
_CALL = "        JSR     CHIME\n"


def write(folder: Path, files: int, lines: int) -> Path:
    """Writes a program of about that many lines in that many files, and its project file; returns the main source."""
    for name in ("board.inc", "clockhop.yaml"):
        (folder / name).write_text((DEMO / name).read_text())
    floors = (lines - 100) // (_FLOOR.count("\n") + 8)
    texts = {number: "".join(_of_file(number, files - 1, floors)) for number in range(1, files)}
    for number, text in texts.items():
        (folder / f"floors{number}.asm").write_text(text)
    main = (DEMO / "main.asm").read_text()
    main = _INCLUDES.sub("".join(f'        INCLUDE "floors{number}.asm"\n' for number in texts), main)
    main = main.replace(_CALL, _CALL + "".join(f"        JSR     FLOORS{number}\n" for number in texts))
    (folder / "main.asm").write_text(main)
    return folder / "main.asm"


def _of_file(number: int, files: int, floors: int) -> Iterator[str]:
    own = range(floors * (number - 1) // files, floors * number // files)
    for floor in own:
        yield _named(_FLOOR, floor)
    yield f"* All floors of this file.\nFLOORS{number}\n"
    for floor in own:
        for name in ("PANELON", "DISPON", "CHIME", "STRIKE", "LAMPON", "SILENCE"):
            yield _named(f"        JSR     {name}\n", floor)
    yield "        RTS\n"


def _named(text: str, floor: int) -> str:
    """The ground floor has the demo's names, each floor above its number behind them."""
    number = str(floor or "")
    return re.sub(r"\b[A-Z]+\b", lambda word: word[0] + number if word[0] in _NAMES else word[0], text)
