from collections.abc import Callable

import pytest
from clockhop.assemble import Program, assemble, words
from clockhop.cpu import load
from clockhop.errors import Place, SourceError
from clockhop.source import Source, parse


@pytest.fixture(scope="session")
def assembled() -> Callable[..., Program]:
    """Assembles texts: the first is the program, others are files it may include."""

    def run(
        text: str | bytes, cpu: str = "6809", files: dict[str, str] | None = None, **options: object
    ) -> Program:
        processor = load(cpu)
        texts = {"tower.asm": text, **(files or {})}

        def reader(path: str) -> Source:
            if path not in texts:
                raise SourceError("no such file; check the name", Place(path))
            given = texts[path]
            data = given if isinstance(given, bytes) else given.encode()
            return parse(data, path, words(processor))

        return assemble("tower.asm", processor, reader=reader, **options)

    return run


@pytest.fixture(scope="session")
def code(assembled: Callable[..., Program]) -> Callable[..., str]:
    """The bytes of all instructions of a text, as hex."""

    def run(text: str, cpu: str = "6809") -> str:
        program = assembled(text, cpu)
        assert [opaque.cause for opaque in program.opaque] == []
        return " ".join(instruction.action.code.hex() for instruction in program.instructions)

    return run
