"""Every documented opcode of the Z80, the 8080 and the 8085, as independent assemblers encode it.

Debian's z80asm knows Zilog's mnemonics, its binutils-z80 those of the Z180, too, and PyPI's suite8080 those of Intel
for the 8080. RIM and SIM, which the 8085 has beyond it, have no witness but the maker's manual, from memory: 20 and 30.
"""

import shutil
import subprocess
from pathlib import Path

import pytest
from clockhop.assemble import Program, assemble, words
from clockhop.cpu import Action, Cpu, Row, Value, Variant, load
from clockhop.source import Source, parse

VALUES = {"n8": 18, "n16": 4660, "a16": 22136, "s8": 5, "rel8": 0x1000}
needs_z80asm = pytest.mark.skipif(shutil.which("z80asm") is None, reason="Debian's z80asm is not installed")


def opcodes(processor: Cpu, marked: bool = False) -> list[Action]:
    """An instruction for each opcode; of those that do the same, the first is what the text stands for."""
    found: dict[str, Action] = {}
    for rows in processor.decoder.rows.values():
        for row, _, inset in rows:
            if (row.mark != "") is marked:
                found.setdefault(
                    written(action := bound(processor, row, row.form.variants[0], inset)), action
                )
    return list(found.values())


def bound(processor: Cpu, row: Row, variant: Variant, inset: dict[str, Value]) -> Action:
    fields = {hole.name: VALUES.get(hole.name, 0) for hole in variant.holes} | inset
    return processor.bind(row, variant, fields, 0x1000)


def written(action: Action) -> str:
    """The instruction as its maker writes it."""
    text = action.variant.pattern
    for name, value in action.fields.items():
        text = text.replace(name, str(value))
    return f"{action.mnemonic} {text}".rstrip()


def ours(processor: Cpu, text: list[str]) -> Program:
    whole = "\n".join(
        [" ORG 1000H", *(line if " EQU " in line else f" {line}" for line in text), ""]
    ).encode()

    def reader(path: str) -> Source:
        return parse(whole, path, words(processor))

    program = assemble("tower.asm", processor, reader=reader)
    assert program.opaque == ()
    assert program.problems == ()
    return program


def z80asm(text: list[str], folder: Path) -> list[str]:
    """The bytes of each line; a branch goes to its own address."""
    lines = [f" org 0x1000\nseek {place * 16}\n {line.lower()}" for place, line in enumerate(text)]
    (folder / "tower.asm").write_text("\n".join([*lines, ""]))
    subprocess.run(
        ["z80asm", "-o", "tower.bin", "tower.asm"], cwd=folder, check=True, capture_output=True, text=True
    )
    data = (folder / "tower.bin").read_bytes() + bytes(16)
    return [data[place * 16 : place * 16 + 4].hex() for place in range(len(text))]


def bytes_of(program: Program) -> list[str]:
    return [instruction.action.code.hex() for instruction in program.instructions]


def alone(processor: Cpu, text: list[str]) -> list[str]:
    """The bytes of each line at address 1000H."""
    return [bytes_of(ours(processor, [line]))[0] for line in text]


def same(found: list[str], expected: list[str]) -> bool:
    return all(theirs.startswith(code) for code, theirs in zip(found, expected, strict=True))


@needs_z80asm
def test_every_documented_opcode_of_the_z80_is_encoded_as_by_z80asm(tmp_path: Path) -> None:
    processor = load("z80")
    text = [written(action) for action in opcodes(processor)]
    assert len(text) == 696  # ED 63 and ED 6B are written like 22 and 2A
    expected = z80asm(text, tmp_path)
    found = alone(processor, text)
    assert [(t, f, e) for t, f, e in zip(text, found, expected, strict=True) if not e.startswith(f)] == []


@pytest.mark.skipif(
    shutil.which("z80-unknown-coff-as") is None, reason="Debian's binutils-z80 is not installed"
)
def test_every_opcode_of_the_z180_is_encoded_as_by_binutils(tmp_path: Path) -> None:
    processor = load("z180")
    text = [written(action) for action in opcodes(processor)]
    # Inputs that only set flags have no word there.
    text = [line for line in text if line not in ("IN F,(C)", "IN0 F,(18)")]
    assert len(text) == 729  # ED 63 and ED 6B are written like 22 and 2A
    places = [
        f" .org {16 * place}\n {line.lower().replace('4096', '.')}\n" for place, line in enumerate(text)
    ]
    (tmp_path / "tide.s").write_text("".join(places))
    for command in ("as -march=z180 -o tide.o tide.s", "objcopy -O binary tide.o tide.bin"):
        subprocess.run(f"z80-unknown-coff-{command}".split(), cwd=tmp_path, check=True, capture_output=True)
    data = (tmp_path / "tide.bin").read_bytes() + bytes(16)
    expected = [data[16 * place : 16 * place + 4].hex() for place in range(len(text))]
    found = alone(processor, text)
    assert [(t, f, e) for t, f, e in zip(text, found, expected, strict=True) if not e.startswith(f)] == []


@pytest.mark.parametrize(("name", "count"), [("8080", 244), ("8085", 246)])
def test_every_documented_opcode_of_8080_and_8085_in_intel_s_words_gives_itself(
    name: str, count: int
) -> None:
    processor = load(name)
    actions = opcodes(processor)
    assert len(actions) == count
    assert alone(processor, [written(action) for action in actions]) == [
        action.code.hex() for action in actions
    ]


@pytest.mark.parametrize("name", ["8080", "8085"])
def test_what_intel_writes_for_them_is_encoded_as_by_suite8080(name: str) -> None:
    others = {"RIM": "20", "SIM": "30"} if name == "8085" else {}
    actions = {written(action): action.code for action in opcodes(load(name))}
    assert {line: actions.pop(line).hex() for line in others} == others
    assert len(actions) == 244
    assert {line: suite8080(line) for line in actions} == actions


def suite8080(line: str) -> bytes:
    asm80 = pytest.importorskip("suite8080.asm80", reason="PyPI's suite8080 is not installed")
    asm80.output, asm80.address, asm80.symbol_table = b"", 0, {}
    asm80.assemble([f" {line.lower()}"])
    return bytes(asm80.output)


@needs_z80asm
@pytest.mark.parametrize("name", ["8080", "8085"])
def test_what_zilog_writes_for_them_is_encoded_as_by_z80asm(name: str, tmp_path: Path) -> None:
    processor = load(name, "zilog")
    text = [written(action) for action in opcodes(processor) if action.mnemonic not in ("RIM", "SIM")]
    assert len(text) == 244
    assert same(alone(processor, text), z80asm(text, tmp_path))


def test_undocumented_opcodes_have_words_of_their_own_or_those_of_a_documented_one() -> None:
    processor = load("z80")
    documented = {written(action) for action in opcodes(processor)}
    text = [(written(action), action.code.hex()) for action in opcodes(processor, marked=True)]
    own = [(line, code) for line, code in text if line not in documented]
    assert len(own) == 570 - 7 - 6 - 5 - 112  # copies of NEG, RETN, IM and BIT
    assert alone(processor, [line for line, _ in own]) == [code for _, code in own]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("LD A,(IX)", "dd7e00"),
        ("LD A,(IX-1)", "dd7eff"),
        ("LD (IY+5-2),7", "fd360307"),
        ("LD A,(5)", "3a0500"),
        ("LD A,(5)+1", "3e06"),
        ("SUB A,(HL)", "96"),
        ("ADD B", "80"),
        ("JP HL", "e9"),
        ("JP (IX)", "dde9"),
        ("EX AF,AF'", "08"),
        ("IN A,(C)", "ed78"),
        ("IN A,(0FEH)", "dbfe"),
        ("OUT (C),0", "ed71"),
        ("RST 38H", "ff"),
        ("LD HL,$+5", "210510"),
        ("LD A,HIGH 1234H", "3e12"),
        ("LD A,NOT 0F0H AND 0FFH", "3e0f"),
        ("LD A,'B'", "3e42"),
        ("LD B,10101010B", "06aa"),
        ("LD B,17Q", "060f"),
        ("ld hl,#1F00", "21001f"),
        ("DJNZ $", "10fe"),
    ],
)
def test_spellings_of_the_z80(text: str, code: str) -> None:
    assert alone(load("z80"), [text]) == [code]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("MOV A,M", "7e"),
        ("MVI A,(5+1)*2", "3e0c"),
        ("LXI H,$", "210010"),
        ("LXI SP,TOP", "310080"),
        ("MVI C,TOP SHR 8 AND 0FFH", "0e80"),
        ("MVI C,LOW(TOP+1)", "0e01"),
        ("PUSH PSW", "f5"),
        ("RST 7", "ff"),
        ("JMP $+3", "c30310"),
        ("CPI 'B'", "fe42"),
        ("ADI -1", "c6ff"),
        ("MVI A,0FH OR 0F0H", "3eff"),
        ("DAD SP", "39"),
        ("LDAX D", "1a"),
    ],
)
def test_spellings_of_the_8080(text: str, code: str) -> None:
    program = ours(load("8080"), [text, "TOP EQU 8000H"])
    assert bytes_of(program) == [code]


def test_labels_data_and_comments_as_in_sources_of_the_time() -> None:
    program = ours(
        load("8080"),
        ["NOP", "MVI A,NOT 5\t; needs its mark", "DB 'TIDE BELL',13,10,0", "DS 4", "DW 1234H"],
    )
    assert bytes_of(program) == ["00", "3efa"]
    assert bytes(program.data[a] for a in sorted(program.data)) == b"TIDE BELL\r\n\0\x34\x12"


def test_what_the_syntax_lacks_is_said() -> None:
    with pytest.raises(Exception, match='the 6809 is not written in "zilog"; accepted: motorola'):
        load("6809", "zilog")


def test_the_z80_reads_the_8080_s_words_with_its_own_beside_them() -> None:
    processor = load("z80", "intel")
    text = [
        "MOV A,M",
        "JNZ 5678H",
        "CP 5678H",
        "LXI B,1234H",
        "PUSH PSW",
        "RST 7",
        "DJNZ $",
        "EX AF,AF'",
        "LD (IX+5),B",
    ]
    assert alone(processor, text) == [
        "7e", "c27856", "f47856", "013412", "f5", "ff", "10fe", "08", "dd7005",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "code_of_it"),
    [
        ("LD 3(IX),A", "dd7703"),
        ("LD A,-1(IY)", "fd7eff"),
        ("LD A,[HL]", "7e"),
        ("LD A,#0x12", "3e12"),
        ("LD HL,#NOWHERE", "210000"),
        ("LD A,<1234H", "3e34"),
        ("LD A,'A", "3e41"),
    ],
)
def test_marks_of_numbers_and_places_are_spelling(code, text, code_of_it):
    assert code(f" {text}\n", "z80") == code_of_it


INTEL_AND_SOME_ZILOG = (
    "BELL: MVI A,5\n JP BELL\n CP BELL\n RLC\n RST 1\n LD B,A\n MOV A,B\n ORA A\n JNZ BELL\n"
)
ZILOG_AND_SOME_INTEL = "BELL: LD A,5\n JP BELL\n CP 5\n RLC B\n RST 8\n MVI A,5\n RLC\n ORI 1\n JR BELL\n"


def test_a_file_s_words_tell_whose_they_are_and_words_of_the_other_maker_still_count(assembled, code):
    assert code(INTEL_AND_SOME_ZILOG, "z80") == "3e05 f20000 f40000 07 cf 47 78 b7 c20000"
    assert code(ZILOG_AND_SOME_INTEL, "z80") == "3e05 c30000 fe05 cb00 cf 3e05 07 f601 18ef"
    assert assembled(INTEL_AND_SOME_ZILOG, "z80").cpu.syntax == "intel"
    assert code("BELL: LD A,5\n JP BELL\n", "8080") == "3e05 c30000"
    assert code(" MVI A,5\n JP 0\n", "8080") == "3e05 f20000"


@pytest.mark.parametrize("cpu", ["8080", "8085", "z80"])
def test_no_accumulator_is_loaded_through_h_in_intel_s_words(assembled, cpu):
    program = assembled(" MVI A,5\n LDAX H\n STAX H\n LDAX D\n", cpu)
    assert [each.cause for each in program.opaque] == [
        'LDAX has no operand "H"',
        'STAX has no operand "H"',
    ]
    assert [each.action.code.hex() for each in program.instructions] == ["3e05", "1a"]


def test_one_word_of_the_other_maker_in_a_file_is_not_understood(assembled):
    program = assembled(" LD A,5\n MOV A,B\n LD B,A\n", "z80")
    assert [each.cause for each in program.opaque] == [
        "MOV is a word of intel syntax, and the file is written in zilog; write it in that"
    ]
    assert [each.action.code.hex() for each in program.instructions] == ["3e05", "47"]


def test_a_mark_before_numbers_is_told_from_the_file_or_stated(code):
    assert code(" LD A,#12\n", "z80") == "3e12"
    assert code(" LD A,#12\n LD B,#BELLS\nBELLS EQU 3\n", "z80") == "3e0c 0603"
    assert code(" LD A,#12\n LD B,0(IX)\n", "z80") == "3e0c dd4600"
    assert (
        code(" LD A,#12\n LD B,#BELLS\nBELLS EQU 3\n", "z80", stated={"marked-immediates": False})
        == "3e12 0603"
    )
    assert code(" CP 5\n JP 0\n", "z80", syntax="intel") == "f40500 f20000"


WRITTEN_OTHERWISE = [
    ("EX AF,AF", "08"),
    ("IN A,(BC)", "ed78"),
    ("OUT 5,A", "d305"),
    ("RST 7", "ff"),
    ("LD BC, HL", "44 4d"),
    ("LD IX,BC", "dd60 dd69"),
    ("LD HL,(IX-2)", "dd6efe dd66ff"),
    ("LD A,(HL+)", "7e 23"),
    ("OR (HL-)", "b6 2b"),
    ("SRA HL", "cb2c cb1d"),
    ("PUSH BC,DE,HL", "c5 d5 e5"),
]


@pytest.mark.parametrize(("text", "code_of_it"), WRITTEN_OTHERWISE)
def test_what_is_no_instruction_may_stand_for_some(code, text, code_of_it):
    assert code(f" {text}\n", "z80") == code_of_it


def test_what_an_8085_has_beyond_an_8080_is_written_in_zilog_s_way_too(code, assembled):
    text = " LD DE,SP+2\n LD HL,(DE)\n SUB HL,BC\n SRA HL\n JP NK,$\n"
    assert code(text, "8085") == "3802 ed 08 10 dd0500"
    assert code("BELL: JR NZ,BELL\n DJNZ BELL\n", "8085", syntax="zilog") == "c20000 05 c20000"
    assert len(assembled(" JR PO,$\n", "z80").opaque) == 1
    assert [each.cause for each in assembled(text, "z80").opaque] == [
        'LD has no operand "DE,SP+2", which is one of the 8085',
        'LD has no operand "HL,(DE)", which is one of the 8085',
        'SUB has no operand "HL,BC", which is one of the 8085',
        'JP has no operand "NK,$", which is one of the 8085',
    ]


def test_a_number_in_place_of_a_register_is_an_immediate_in_intel_s_words(code):
    assert code(" MOV M,3FH\n SUB 7\n LXI HL,5\n PUSH AF\n", "8080") == "363f d607 210500 f5"


def test_a_word_that_no_operand_names_as_a_register_is_a_symbol(code):
    assert code(" LD HL,(PC)\nPC EQU 1234H\n", "z80") == "2a3412"


def test_an_instruction_of_another_processor_is_said_to_be_one(assembled):
    program = assembled(" SIM\n MLT BC\n RING\n SUB HL,BC\n", "z80")
    assert [each.cause for each in program.opaque] == [
        '"SIM" is an instruction of the 8085, not of this processor',
        '"MLT" is an instruction of the Z180, not of this processor',
        '"RING" is no instruction, directive or macro',
        'SUB has no operand "HL,BC", which is one of the 8085',
    ]
