"""The bytes that were burned beside the bytes a program lays down: are the timings those of the right program?"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from .. import looked
from ..assemble import Origin, Program, assemble
from ..errors import Place, SourceError
from ..source import LARGEST
from .buffer import reader
from .chain import Chain

_HEX = re.compile(rb"[0-9A-Fa-f]*")


@dataclass(frozen=True, slots=True)
class Image:
    """Bytes by address, as a file for a programmer has them."""

    path: str
    data: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Difference:
    """One byte: where in the source it comes from, its address there, what the program has and what was burned."""

    place: Place
    address: int
    ours: int
    burned: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """How many bytes of the program were compared and differ; `first` is the lowest address that does.

    `absent` are bytes of the program that the image has none for, `unknown` those whose value or address is not known.
    `habit` is a way of writing that, if stated, makes all fit.
    """

    path: str
    compared: int
    differing: int
    absent: int
    unknown: int
    first: Difference | None
    habit: str = ""

    @property
    def fits(self) -> bool:
        """Whether something was compared and nothing differs."""
        return self.compared > 0 and self.differing == 0


def read_image(path: str, origin: int | None) -> Image:
    """The image in a file: Intel hex, S-records, or plain bytes that begin at `origin`.

    Raises SourceError, with the line, for a record that is wrong, and for plain bytes without an origin.
    """
    try:
        data = looked.read(path)
    except OSError as fault:
        raise SourceError(
            f"can't be read ({(fault.strerror or 'unreadable').lower()}); check its name and permissions",
            Place(path),
        ) from None
    if len(data) > LARGEST:
        raise SourceError(f"has {len(data)} bytes, more than 16 MiB; this is no image", Place(path))
    start = data.lstrip()[:2]
    if start[:1] == b":" and _HEX.fullmatch(start[1:]):
        return Image(path, dict(_intel(data, path)))
    if start[:1] == b"S" and start[1:].isdigit():
        return Image(path, dict(_motorola(data, path)))
    if origin is None:
        raise SourceError(
            "is neither Intel hex nor S-records; say with --origin where its first byte lies", Place(path)
        )
    return Image(path, {origin + offset: byte for offset, byte in enumerate(data)})


def _records(data: bytes, path: str, mark: int) -> Iterator[tuple[bytes, bytes, Place]]:
    """What stands before the digits of each record, and the bytes they make, the sum last."""
    for number, line in enumerate(data.splitlines(), 1):
        text = line.strip(b" \t\x1a\x00")
        if not text:
            continue
        head, digits, place = text[:mark], text[mark:], Place(path, number)
        if not _HEX.fullmatch(digits) or len(digits) % 2 or len(digits) < 8:
            raise SourceError(
                "no record of pairs of hex digits; take the file as the programmer had it", place
            )
        yield head, bytes.fromhex(digits.decode("ascii")), place


def _intel(data: bytes, path: str) -> Iterator[tuple[int, int]]:
    base = 0
    for head, record, place in _records(data, path, 1):
        count, offset, kind, body = record[0], record[1] << 8 | record[2], record[3], record[4:-1]
        _check(head == b":" and count == len(body) and sum(record) % 256 == 0, place)
        match kind:
            case 0:
                yield from ((base + offset + index, byte) for index, byte in enumerate(body))
            case 1:
                return
            case 2:
                base = int.from_bytes(body, "big") << 4
            case 4:
                base = int.from_bytes(body, "big") << 16


def _motorola(data: bytes, path: str) -> Iterator[tuple[int, int]]:
    widths = {b"S1": 2, b"S2": 3, b"S3": 4}
    for head, record, place in _records(data, path, 2):
        _check(head[:1] == b"S" and record[0] == len(record) - 1 and sum(record) % 256 == 0xFF, place)
        width = widths.get(head)
        if width:
            start = int.from_bytes(record[1 : 1 + width], "big")
            yield from ((start + index, byte) for index, byte in enumerate(record[1 + width : -1]))


def _check(is_right: bool, place: Place) -> None:
    if not is_right:
        raise SourceError("length or check sum of the record is wrong; take the file as it was made", place)


def compare_build(chain: Chain, image: Image) -> Comparison:
    """The comparison for a build; where something differs, with the habit of its sources that would make it fit."""
    found = compare(chain.program, image)
    request = chain.request
    stated = request.habits or {}
    for habit in chain.program.files[0].vocabulary.syntax.habits if found.differing else ():
        if habit not in stated:
            other = replace(request, habits={**stated, habit: True})
            tried = assemble(
                request.source,
                request.cpu(),
                request.defines,
                request.include,
                reader(other, {}),
                request.within,
            )
            if compare(tried, image).fits:
                return replace(found, habit=habit)
    return found


def compare(program: Program, image: Image) -> Comparison:
    """The bytes of a program whose value and address are known, beside those of an image."""
    compared = absent = unknown = 0
    differing: list[tuple[int, int, Origin]] = []
    for address, byte, origin in program.bytes():
        burned = image.data.get(address)
        if byte is None:
            unknown += 1
        elif burned is None:
            absent += 1
        else:
            compared += 1
            if burned != byte:
                differing.append((address, byte, origin))
    first = min(differing, key=lambda each: each[0], default=None)
    return Comparison(
        path=image.path,
        compared=compared,
        differing=len(differing),
        absent=absent,
        unknown=unknown,
        first=Difference(first[2].place, first[0], first[1], image.data[first[0]]) if first else None,
    )
