"""What the table reader says about a table that is wrong."""

import pytest
from clockhop.cpu.table import Reader
from clockhop.errors import TableError
from clockhop.tables import load

TABLE = """\
cpu: "1"
address_bits: 16
sources: {own: {title: made up}}
registers: {A: 8, PC: 16}
flags: N Z
classes: {index: {A: 0}}
forms:
  inherent: {operand: "", bytes: op, steps: f}
operations:
  nothing: {steps: i}
opcodes:
  - [0x12, NOP, inherent, nothing, "", own]
"""


def fault(old: str, new: str) -> str:
    assert old in TABLE
    with pytest.raises(TableError) as error:
        Reader(load(TABLE.replace(old, new), "one.yaml")).rows()
    return str(error.value)


def test_the_table_as_it_stands_has_one_row() -> None:
    (row,) = Reader(load(TABLE, "one.yaml")).rows()
    assert (row.code, row.mnemonics, row.form.name, row.operation.name) == (
        b"\x12",
        ("NOP",),
        "inherent",
        "nothing",
    )


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "opcodes:\n",
            'opcodes:\n  - [0x12, HALT, inherent, nothing, "", own]\n',
            "one.yaml:13:5: opcode 12 stands twice, first in line 12; keep one row",
        ),
        (
            "[0x12, NOP, inherent",
            "[0x12, NOP, inherant",
            'one.yaml:12:17: unknown value "inherant"; nearest: inherent',
        ),
        ("nothing, ", "noting, ", 'one.yaml:12:27: unknown value "noting"; nearest: nothing'),
        ('"", own]', '"", pm]', 'one.yaml:12:40: unknown source "pm"; accepted: own'),
        ('"", own]', '"R", own]', 'one.yaml:12:36: binding "R" is not name=value'),
        (
            ', "", own]',
            ", own]",
            "one.yaml:12:5: a row has 6 or 7 columns: opcode, mnemonics, form, operation, bindings, source, mark",
        ),
        ("0x12", "0xZ", 'one.yaml:12:6: "0xZ" is no opcode; write its bytes as hex, such as 0x1012'),
        ("steps: i}", "steps: j}", 'one.yaml:10:20: steps "j": not understood from "j" on'),
        ("steps: i}", "stpes: i}", 'one.yaml:10:13: unknown key "stpes"; nearest: steps'),
        ("{A: 0}", "{B: 0}", 'one.yaml:6:22: unknown register "B"; accepted: A, N, PC, Z'),
    ],
)
def test_an_error_names_its_place_and_what_would_be_accepted(old: str, new: str, message: str) -> None:
    assert fault(old, new) == message
