"""One build from its text to its timings: read, assemble, trace, count, on its board."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ..address import port
from ..assemble import Problem, Program, Reader, assemble
from ..board import Board, bare
from ..errors import BoardError, ClockhopError, Place, SourceError
from ..flow import Graph, connect
from ..source import load_syntax
from ..timing import Region, Remembered, Timings, WaitStates, count, handlers
from . import buffer
from .includer import main_file
from .request import Request, number


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """What one build gave, stage by stage.

    `board` has the clocks of the request. `gaps_at` are the addresses the request asks for, by the words it used.
    """

    request: Request
    program: Program
    board: Board
    graph: Graph
    timings: Timings
    gaps_at: tuple[tuple[str, int], ...]

    @property
    def name(self) -> str:
        """The build's name in the project file, else its source as it was named."""
        return self.request.build.name if self.request.build else self.request.source


def run(request: Request, reader: Reader | None = None, remembered: Remembered | None = None) -> Chain:
    """Runs one build up to its timings; cycles only, no clock is used yet.

    `reader` gives the Source of a path; without it files are read from the disk. `remembered` is what earlier runs of
    the same build left: the result is the same, and sooner there. What is not understood does not
    stop the run: it is in `program`. Raises SourceError for a main file that can't be read or holds no instruction of
    the processor, BoardError where the project file does not fit the program.
    """
    reading = reader or buffer.reader(request, {})
    program = assemble(
        request.source, request.cpu(), request.defines, request.include, reading, request.within
    )
    if not program.instructions:
        raise SourceError(_nothing(request, program), Place(request.source))
    board = _board(request, program)
    program = _with_includer(request, program)
    gaps_at = tuple((text, _address(text, program)) for text in request.gaps_at)
    graph = connect(
        program, tuple(_entries(board, program)), [interrupt.entry for interrupt in board.interrupts]
    )
    watched = board.watched | {address for _, address in gaps_at}
    stated = [(interrupt.name, interrupt.entry) for interrupt in board.interrupts]
    waits = wait_states(board)
    timings = count(graph, watched, handlers(graph, stated, waits), waits, memory(board), remembered)
    return Chain(request, program, board, graph, timings, gaps_at)


def wait_states(board: Board) -> WaitStates:
    """The wait states of the board's parts and memory; a part goes before the memory it stands in."""
    parts = (
        Region(first, last, part.waits, stack=part.family.kind == "memory")
        for part in board.parts
        for first, last, _ in part.stretches()
    )
    areas = (Region(area.first, area.last, area.waits, stack=area.kind == "ram") for area in board.areas)
    made = WaitStates((*parts, *areas))
    return made if made.any else WaitStates()


def memory(board: Board) -> tuple[range, ...]:
    """Where the board has memory."""
    return tuple(range(area.first, area.last + 1) for area in board.areas)


def _main(request: Request, program: Program) -> str | None:
    """The program that a source belongs to which is no build of the project."""
    return (
        None if request.build else main_file(request.source, request.within, load_syntax(program.cpu.syntax))
    )


def _with_includer(request: Request, program: Program) -> Program:
    """Where names have no value, the file that includes this one and may define them is said first."""
    lacks = any(symbol.kind == "unknown" for symbol in program.symbols.values())
    main = _main(request, program) if lacks else None
    if main is None:
        return program
    message = f"is included by {main}, which may define what is unknown here; name that"
    return replace(program, problems=(Problem(Place(request.source), message), *program.problems))


def _nothing(request: Request, program: Program) -> str:
    main = _main(request, program)
    if main:
        return f"has no instruction by itself and is included by {main}; name that"
    if program.statements == 0:
        return "has no statements; name a source file with code in it"
    found = f"has no instruction of the {program.cpu.name} in {program.statements} statements"
    first = next(iter(program.problems), None)
    return f"{found}; {first.place}: {first.message}" if first else f"{found}; check --cpu"


def _board(request: Request, program: Program) -> Board:
    if request.project is None:
        return bare(request.processor, request.clocks, request.written_for)
    symbols = {name: symbol.value for name, symbol in program.symbols.items() if symbol.value is not None}
    try:
        board = request.project.resolve(symbols, request.build)
    except BoardError as fault:
        main = _main(request, program)
        if main is None:
            raise
        what = fault.message.partition(";")[0]
        raise BoardError(f"{what}; {request.source} is included by {main}: name that", fault.place) from None
    return replace(board, clocks=request.clocks, written_for=request.written_for)


def _address(text: str, program: Program) -> int:
    name = text.removeprefix("io:")
    symbol = program.label(name)
    value = symbol.value if symbol else number(name)
    if value is None:
        raise ClockhopError(
            f'--gaps-at "{text}": no address and no symbol of {program.path} with a value; '
            f"write $8000, io:$10 for a port, or a symbol"
        )
    return port(value) if name != text or _is_port(value, program) else value


def _is_port(value: int, program: Program) -> bool:
    """Whether an instruction for ports names the number."""
    return any(
        instruction.address_of(operand) == port(value)
        for instruction in program.instructions
        for operand in instruction.operands
    )


def _entries(board: Board, program: Program) -> Iterator[tuple[str, int]]:
    for address in board.entries:
        yield program.shown(address), address
    for interrupt in board.interrupts:
        yield program.symbol_at(interrupt.entry) or interrupt.name, interrupt.entry
