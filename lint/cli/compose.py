"""`clockhop compose`: a routine or piece of code that lasts a given time."""

from pathlib import Path

import click

from ..board import Project, find
from ..board import load as load_project
from ..cpu import Cpu, is_known, load, names
from ..errors import ClockhopError
from ..mend import Wanted, compose
from ..quantity import Clock, parse_duration
from ..report import Form
from ..tables import nearest
from .option import ClockType, written
from .output import Output, deliver


@click.command("compose", epilog="Example: clockhop compose 20ms --cpu 6309 --clock 4MHz")
@click.argument("time")
@click.option("--cpu", metavar="NAME", help="The processor; see clockhop cpus.")
@click.option("--clock", type=ClockType(), help="The bus clock it runs at, such as 2MHz.")
@click.option("--inline", is_flag=True, help="Without a return, to be put between other instructions.")
@click.option("--using", metavar="REGISTERS", default="", help="Change no others than these, such as A,X.")
@click.option(
    "--syntax", metavar="NAME", default="", help="Another maker's mnemonics than the processor's own."
)
@click.option(
    "--name", metavar="LABEL", default="WAIT", show_default=True, help="What its labels begin with."
)
@written
def command(
    time: str,
    cpu: str | None,
    clock: Clock | None,
    inline: bool,
    using: str,
    syntax: str,
    name: str,
    form: Form,
    output: Output,
) -> int:
    """Write a routine that lasts TIME, such as 20ms, from its entry to its return instruction inclusive.

    It lasts exactly that where the processor can, else the least bit longer, in the fewest bytes. What it takes and
    changes was counted from the text that is printed. Processor, syntax and clock come from the project file where
    they are not given. Interrupts and wait states come on top.
    """
    found = find(Path())
    project = load_project(found) if found and not (cpu and clock) else None
    processor = _processor(cpu, project, syntax)
    duration = parse_duration(time)
    registers = tuple(word.strip() for word in using.split(",")) if using else ()
    wanted = Wanted(duration, _spaced(time), _clock(clock, project), inline, registers, name)
    deliver(compose(processor, wanted), form, output, ())
    return 0


def _processor(cpu: str | None, project: Project | None, syntax: str) -> Cpu:
    if cpu is None and project is None:
        raise ClockhopError("no processor is known; add --cpu, such as --cpu 6809")
    if cpu is not None and not is_known(cpu):
        raise ClockhopError(f'--cpu: unknown processor "{cpu}"; {nearest(cpu, names())}')
    if cpu is not None or project is None:
        return load(cpu or "", syntax)
    return load(project.processor, syntax or project.syntax, project.processor_state)


def _clock(clock: Clock | None, project: Project | None) -> Clock:
    if clock is not None:
        return clock
    if project is None or not project.clocks:
        raise ClockhopError("no clock is known; add --clock, such as --clock 2MHz")
    return max(project.clocks)


def _spaced(time: str) -> str:
    """The time as a note says it: 20 ms."""
    unit = time.strip().lstrip("0123456789./ ")
    return f"{time.strip().removesuffix(unit).strip()} {unit}"
