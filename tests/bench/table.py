"""Prints how quick the tool is, as ratios within one run: `python tests/bench/table.py [--long]`.

Nothing here fails: a machine that is busy with something else is slow at both sides of a ratio, but not evenly.
"""

import io
import os
import resource
import statistics
import subprocess
import sys
import sysconfig
import tempfile
import time
import tokenize
from collections.abc import Callable
from pathlib import Path

from clockhop.chain import Asked, judge, requests, run, with_room
from clockhop.quantity import parse_clock
from program import PROJECT, lines_of

CLOCKS = (parse_clock("1MHz"), parse_clock("2MHz"))
NEST = """\
        ORG   $1000
NEST    LDA   #{a}
A       LDX   #{x}
B       LDY   #{x}
C       LDB   #{a}
D       DECB
        BNE   D
        LEAY  -1,Y
        BNE   C
        LEAX  -1,X
        BNE   B
        DECA
        BNE   A
        RTS
"""
# 29 * 255 * 256 * 5 cycles and what is around it: a little more than two seconds at 4 MHz.
DELAY = """\
        ORG $1000
DELAY   LDA #29
        STA $10
OUTER   LDX #0
MIDDLE  LDY #0
INNER   DEY
        BNE INNER
        DEX
        BNE MIDDLE
        DEC $10
        BNE OUTER
        RTS
"""


def spent(work: Callable[[], object]) -> float:
    before = time.process_time()
    work()
    return time.process_time() - before


def tokenize_rate() -> float:
    """Lines a second of the standard library's own source through `tokenize`."""
    folder = Path(sysconfig.get_paths()["stdlib"])
    texts = [path.read_bytes() for path in sorted(folder.glob("*.py"))[:60]]
    lines = sum(text.count(b"\n") for text in texts)

    def all_of_them() -> None:
        for text in texts:
            for _ in tokenize.tokenize(io.BytesIO(text).readline):
                pass

    return lines / min(spent(all_of_them) for _ in range(3))


def analyse(path: Path, processor: str) -> None:
    asked = Asked(sources=(str(path),), processor=processor, clocks=CLOCKS, written_for=CLOCKS[0])
    for request in requests(asked):
        judge(run(request))


def growth(folder: Path, lines: int) -> tuple[float, float]:
    """Seconds and bytes of memory a program of so many lines takes, in a process of its own."""
    path = folder / f"tower{lines}.asm"
    path.write_text(lines_of(lines), encoding="ascii")
    done = subprocess.run(
        [sys.executable, __file__, "--one", str(path)], capture_output=True, text=True, check=True
    )
    seconds, memory = done.stdout.split()
    return float(seconds), float(memory)


def one(path: Path) -> None:
    small = path.with_name("small.asm")
    small.write_text(lines_of(100), encoding="ascii")
    with_room(lambda: analyse(small, "6809"))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    seconds = spent(lambda: with_room(lambda: analyse(path, "6809")))
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(seconds, (after - before) * 1024)


def process(arguments: list[str], environment: dict[str, str], folder: Path) -> float:
    """Processor seconds of a whole process, its start included."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(arguments, env=environment, cwd=folder, capture_output=True, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def whole_process(folder: Path) -> None:
    source = folder / "tower.asm"
    text = lines_of(1500)
    source.write_text(text, encoding="ascii")
    folder.joinpath("clockhop.yaml").write_text(PROJECT, encoding="ascii")
    cache = folder / "cache"
    environment = {**os.environ, "CLOCKHOP_CACHE": str(cache)}
    # As a user has it: the code of modules is kept between runs.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    check = [sys.executable, "-c", "from clockhop.cli import main; main()", "check", "tower.asm"]

    def cold() -> None:
        for path in cache.rglob("*.json"):
            path.unlink()

    def changed() -> None:
        nonlocal text
        text = text.replace("ADDA  #", "ADDA  #1+", 1)
        source.write_text(text, encoding="ascii")

    process(check, environment, folder)
    rows: list[tuple[str, Callable[[], None]]] = [
        ("nothing changed", lambda: None),
        ("one line changed", changed),
        ("cold", cold),
    ]
    base = statistics.median(
        process([sys.executable, "-c", "import click, yaml"], environment, folder) for _ in range(7)
    )
    print(f"python -c 'import click, yaml'                 {base * 1000:8.0f} ms")
    for name, prepare in rows:
        times = []
        for _ in range(5):
            prepare()
            times.append(process(check, environment, folder))
        took = statistics.median(times)
        print(f"check of 1,500 lines, {name:24} {took * 1000:8.0f} ms   ratio {took / base:6.2f}")


def nests(folder: Path) -> None:
    took = []
    for name, a, x in (("ten", 10, 1), ("10^12", 250, 65_535)):
        path = folder / f"nest{a}.asm"
        path.write_text(NEST.format(a=a, x=x), encoding="ascii")
        analyse(path, "6809")
        took.append(min(spent(lambda path=path: analyse(path, "6809")) for _ in range(3)))
        print(f"a nest of {name:5} turns                            {took[-1] * 1000:8.1f} ms")
    print(f"                                                          ratio {took[1] / took[0]:6.2f}")


def against_stepping(folder: Path) -> None:
    from py65.devices.mpu6502 import MPU

    path = folder / "delay.asm"
    path.write_text(DELAY, encoding="ascii")
    (request,) = requests(Asked(sources=(str(path),), processor="6502"))
    chain = run(request)
    from clockhop.timing import count

    counted = min(spent(lambda: count(chain.graph)) for _ in range(5))
    machine = MPU()
    for address, byte in chain.program.code.items():
        machine.memory[address] = byte
    machine.pc, end = 0x1000, max(chain.program.code)

    def step() -> None:
        while machine.pc != end:
            machine.step()

    stepped = spent(step)
    print(
        f"a delay of {machine.processorCycles / 4e6:.2f} s at 4 MHz: timing.count        {counted * 1000:8.2f} ms"
    )
    print(
        f"  the same stepped in py65                     {stepped * 1000:8.0f} ms   ratio {stepped / counted:6.0f}"
    )


def main() -> None:
    if sys.argv[1:2] == ["--one"]:
        one(Path(sys.argv[2]))
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        whole_process(folder)
        folder.joinpath("clockhop.yaml").unlink()
        rate = tokenize_rate()
        print(f"tokenize over the standard library             {rate:8.0f} lines/s")
        for lines in (5_000, 50_000, 500_000) if "--long" in sys.argv else (5_000, 20_000):
            seconds, memory = growth(folder, lines)
            print(
                f"read and analyse, {lines:7,} lines               {lines / seconds:8.0f} lines/s"
                f"   ratio {lines / seconds / rate:6.3f}   {memory / lines / 1000:5.2f} KB a line"
            )
        nests(folder)
        against_stepping(folder)


if __name__ == "__main__":
    main()
