from collections.abc import Callable

import pytest
from clockhop.assemble import Program, assemble, dialects
from clockhop.cpu import load
from clockhop.errors import Place, SourceError
from clockhop.source import Source, parse


@pytest.fixture(scope="session")
def assembled() -> Callable[..., Program]:
    """Assembles texts: the first is the program, others are files it may include."""

    def run(
        text: str | bytes,
        cpu: str = "6809",
        files: dict[str, str] | None = None,
        stated: dict[str, bool] | None = None,
        syntax: str = "",
        **options: object,
    ) -> Program:
        processor = load(cpu)
        readable = dialects(processor, stated, syntax)
        texts = {"tower.asm": text, **(files or {})}

        def reader(path: str) -> Source:
            if path not in texts:
                raise SourceError("no such file; check the name", Place(path))
            given = texts[path]
            data = given if isinstance(given, bytes) else given.encode()
            return parse(data, path, readable)

        return assemble("tower.asm", processor, reader=reader, **options)

    return run


@pytest.fixture(scope="session")
def code(assembled: Callable[..., Program]) -> Callable[..., str]:
    """The bytes of all instructions of a text, as hex."""

    def run(text: str, cpu: str = "6809", **spelling: object) -> str:
        program = assembled(text, cpu, **spelling)
        assert [opaque.cause for opaque in program.opaque] == []
        return " ".join(instruction.action.code.hex() for instruction in program.instructions)

    return run
