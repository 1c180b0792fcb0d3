"""Cycles and times as the forms print them: words for people, exact fractions for machines."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Final, assert_never

from ..quantity import Clock, Duration
from ..rules import Strobes
from ..timing import Exact, Formula, Range, Total, Unknown

LONGEST_FORMULA: Final = 32

Json = Mapping[str, object]


def bounds(total: Total) -> tuple[int, int | None]:
    """Fewest and most cycles of a total; most is None where nothing bounds it."""
    match total:
        case Exact(cycles):
            return cycles, cycles
        case Range(fewest, most) | Formula(_, fewest, most):
            return fewest, most
        case Unknown(_, fewest):
            return fewest, None
    assert_never(total)


def cycles_text(total: Total) -> str:
    """A total for a table: "62", "62..70", "5*B + 7"; why it is unknown stands elsewhere."""
    match total:
        case Exact(cycles):
            return str(cycles)
        case Range(fewest, most):
            return f"{fewest}..{most}"
        case Formula(text, fewest, most):
            # A long one would push the times out of sight; `detail` has it.
            return text if len(text) <= LONGEST_FORMULA else f"{fewest}..{most}"
        case Unknown(_, fewest):
            return f"unknown, at least {fewest}" if fewest else "unknown"
    assert_never(total)


def detail(total: Total) -> str:
    """What a total's table cell has no room for: the reason why it is unknown, a long formula; else empty."""
    match total:
        case Formula(text, _, _) if len(text) > LONGEST_FORMULA:
            return text
        case Unknown(reason, _):
            return reason
        case _:
            return ""


def time_text(total: Total, clock: Clock) -> str:
    """How long a total lasts at a clock: "31 us", "31 us..35 us", "at least 31 us"; empty where nothing is known."""
    fewest, most = bounds(total)
    if most is None:
        return f"at least {clock.duration(fewest).text()}" if fewest else ""
    low, high = clock.duration(fewest).text(), clock.duration(most).text()
    return low if low == high else f"{low}..{high}"


def total_json(total: Total) -> Json:
    """A total with all its keys, null where one does not apply."""
    fewest, most = bounds(total)
    kind = type(total).__name__.lower()
    return {
        "kind": kind,
        # Nothing takes less than no cycles: that is no knowledge.
        "min": None if isinstance(total, Unknown) and fewest == 0 else fewest,
        "max": most,
        "formula": total.text if isinstance(total, Formula) else None,
        "reason": total.reason if isinstance(total, Unknown) else None,
    }


def times_json(total: Total, clocks: Sequence[Clock]) -> list[Json]:
    """How long a total lasts at each clock."""
    fewest, most = bounds(total)
    known = not (isinstance(total, Unknown) and fewest == 0)
    return [
        {
            "hz": exact(clock.hz),
            **seconds("min", clock.duration(fewest) if known else None),
            **seconds("max", clock.duration(most) if most is not None else None),
        }
        for clock in clocks
    ]


def span_json(fewest: int, most: int | None, clocks: Sequence[Clock]) -> list[Json]:
    """How long so many cycles last at each clock."""
    return [
        {
            "hz": exact(clock.hz),
            **seconds("min", clock.duration(fewest)),
            **seconds("max", None if most is None else clock.duration(most)),
        }
        for clock in clocks
    ]


def seconds(key: str, time: Duration | None) -> Json:
    """A time under `key` as an exact fraction of a second in text, and under `key`_seconds rounded, for reading."""
    if time is None:
        return {key: None, f"{key}_seconds": None}
    return {key: str(time.seconds), f"{key}_seconds": float(f"{float(time.seconds):.9g}")}


def exact(value: Fraction) -> int | str:
    """A whole number as it is, any other as a fraction in text."""
    return int(value) if value.denominator == 1 else str(value)


def strobes_json(strobes: Strobes) -> Json:
    """The distance from strobe to strobe, in cycles and at each clock."""
    return {
        "fewest": strobes.fewest,
        "most": strobes.most,
        "times": span_json(strobes.fewest, strobes.most, strobes.clocks),
    }
