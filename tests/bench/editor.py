"""How long an editor waits: the language server in a long session over a tall program and over the demo.

Run it as `python tests/bench/editor.py [EDITS]`. It prints times as they were on this machine; no test has a threshold.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from statistics import quantiles

import tower

sys.path.insert(0, str(Path(__file__).parents[1] / "editor"))
from conftest import Editor  # the client of the tests is the client here

_Edit = Callable[[str, int], str]


def main(edits: int) -> None:
    """Types in a tall tower, `edits` times in each way, and in the demo ten times as often."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        print("5,000 lines in 10 files")
        tower.write(folder, 10, 5000)
        _session(
            folder, {"a comment": _comment, "a count": _count, "an instruction more": _instruction}, edits
        )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "belltower"
        shutil.copytree(tower.DEMO, folder)
        print("the demo, 265 lines in 6 files")
        _session(folder, {"a comment": _comment, "a count": _count}, edits * 10)


def _session(folder: Path, ways: dict[str, _Edit], edits: int) -> None:
    editor = Editor(folder, patience=24 * 3600)
    try:
        begun = time.perf_counter()
        editor.begin()
        print(f"  started              {_ms(time.perf_counter() - begun)}")
        begun = time.perf_counter()
        uris = {path: editor.open(path) for path in sorted(folder.glob("*.asm"))}
        editor.diagnostics(next(reversed(uris.values())))
        print(f"  first findings       {_ms(time.perf_counter() - begun)}")
        texts = {path: path.read_text() for path in uris}
        memory = [_memory(editor)]
        for title, edit in ways.items():
            used = _used(editor)
            took = list(itertools.islice(_typed(editor, uris, texts, edit), edits))
            print(f"  {title:<20} {_spread(took)}; {(_used(editor) - used) / edits:.2f} s of processor each")
            memory.append(_memory(editor))
        first = next(iter(uris.values()))
        _hover(editor, first, 1)  # waits for the last analysis
        print(f"  hover                {_spread([_hover(editor, first, line) for line in range(5, 35)])}")
        print(f"  memory               {', '.join(map(str, memory))} MB: first, and after each kind of edit")
        print(f"  exit status          {editor.end()}")
    finally:
        editor.kill()


def _typed(editor: Editor, uris: dict[Path, str], texts: dict[Path, str], edit: _Edit) -> Iterator[float]:
    files = [path for path in uris if edit(texts[path], 99) != texts[path]]
    for number, path in enumerate(itertools.cycle(files)):
        texts[path] = edit(texts[path], number)
        begun = time.perf_counter()
        editor.change(uris[path], texts[path])
        editor.diagnostics(uris[path])
        yield time.perf_counter() - begun


def _comment(text: str, number: int) -> str:
    return re.sub(r"; a tenth of a second.*", f"; a tenth of a second, or {number}", text, count=1)


def _count(text: str, number: int) -> str:
    return re.sub(r"#115\d\d ", f"#115{number % 100:02} ", text, count=1)


def _instruction(text: str, _number: int) -> str:
    return text.replace("        CLRA\n", "        NOP\n        CLRA\n", 1)


def _hover(editor: Editor, uri: str, line: int) -> float:
    place = {"textDocument": {"uri": uri}, "position": {"line": line, "character": 9}}
    begun = time.perf_counter()
    editor.request("textDocument/hover", place)
    return time.perf_counter() - begun


def _used(editor: Editor) -> float:
    """Seconds of processor the server has used."""
    fields = Path(f"/proc/{editor.process.pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _memory(editor: Editor) -> int:
    status = Path(f"/proc/{editor.process.pid}/status").read_text()
    found = re.search(r"VmRSS:\s+(\d+) kB", status)
    return int(found[1]) // 1024 if found else 0


def _spread(took: Sequence[float]) -> str:
    cuts = quantiles(took, n=20, method="inclusive")
    return f"median {_ms(cuts[9])}, 95th percentile {_ms(cuts[18])}, {len(took)} times"


def _ms(seconds: float) -> str:
    return f"{seconds * 1000:.1f} ms"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
