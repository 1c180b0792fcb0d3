"""check --image: the bytes of the program beside those that were burned."""

import json

import pytest

SOURCE = """\
        ORG   $F000
START   LDA   #$86
        LDX   #BELLS
LOOP    BRA   LOOP
        ORG   $F010
BELLS   FCB   1,2,3
        ORG   $FFFE
        FDB   START
"""
CODE, BELLS, VECTOR = "8686 8EF010 20FE", "010203", "F000"


def intel(*rows: tuple[int, str]) -> str:
    lines = []
    for address, digits in rows:
        body = bytes.fromhex(digits)
        record = bytes([len(body), address >> 8, address & 255, 0]) + body
        lines.append(f":{record.hex().upper()}{-sum(record) % 256:02X}\n")
    return "".join(lines) + ":00000001FF\n"


def motorola(*rows: tuple[int, str]) -> str:
    lines = ["S00600004844521B\n"]
    for address, digits in rows:
        body = bytes.fromhex(digits)
        record = bytes([len(body) + 3, address >> 8, address & 255]) + body
        lines.append(f"S1{record.hex().upper()}{255 - sum(record) % 256:02X}\n")
    return "".join(lines) + "S9030000FC\n"


def plain(*rows: tuple[int, str]) -> bytes:
    image = bytearray(b"\xff" * 0x1000)
    for address, digits in rows:
        body = bytes.fromhex(digits)
        image[address - 0xF000 : address - 0xF000 + len(body)] = body
    return bytes(image)


@pytest.fixture
def bells(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bells.asm").write_text(SOURCE)
    return tmp_path


def checked(clockhop, *more):
    return clockhop("check", "bells.asm", "--cpu", "6809", "--clock", "1MHz", "--fail-on", "never", *more)


RIGHT = ((0xF000, CODE), (0xF010, BELLS), (0xFFFE, VECTOR))
WRONG = ((0xF000, CODE), (0xF010, "010403"), (0xFFFE, "F001"))


@pytest.mark.parametrize("form", [intel, motorola])
def test_the_bytes_that_were_burned_are_compared(clockhop, bells, form):
    (bells / "rom.hex").write_text(form(*RIGHT))
    done = checked(clockhop, "--image", "rom.hex")
    assert (done.status, done.err) == (0, "")
    assert "image rom.hex: all 12 bytes compared are the program's\n" in done.out
    (bells / "rom.hex").write_text(form(*WRONG))
    done = checked(clockhop, "--image", "rom.hex")
    assert done.status == 1
    assert (
        "image rom.hex: 2 of 12 bytes differ, first at $F011, bells.asm:6: $02 in the program, $04 burned\n"
        in done.out
    )


def test_plain_bytes_need_an_origin(clockhop, bells):
    (bells / "rom.bin").write_bytes(plain(*WRONG))
    done = checked(clockhop, "--image", "rom.bin")
    fault = (
        "clockhop: rom.bin: is neither Intel hex nor S-records; say with --origin where its first byte lies\n"
    )
    assert (done.status, done.err) == (2, fault)
    done = checked(clockhop, "--image", "rom.bin", "--origin", "$F000", "--form", "json")
    assert done.status == 1
    assert json.loads(done.out)["image"] == {
        "file": "rom.bin",
        "fits": False,
        "compared": 12,
        "differing": 2,
        "absent": 0,
        "unknown": 0,
        "habit": None,
        "first": {"file": "bells.asm", "line": 6, "address": 0xF011, "program": 2, "burned": 4},
    }


def test_what_is_not_known_or_not_there_is_counted(clockhop, bells):
    (bells / "bells.asm").write_text(SOURCE + "        ORG $F020\n        LDX #CHIMES\n        RTS\n")
    (bells / "rom.hex").write_text(intel((0xF000, CODE), (0xFFFE, VECTOR)))
    done = checked(clockhop, "--image", "rom.hex")
    assert done.status == 0
    assert (
        "image rom.hex: all 9 bytes compared are the program's; 4 bytes of the program not in the image; "
        "3 bytes not compared, their values or places are not known\n" in done.out
    )


def test_moved_code_is_compared_where_it_lies(clockhop, bells):
    (bells / "bells.asm").write_text(" ORG $F000\n PHASE $100\nLOOP JMP LOOP\n FCB 5\n DEPHASE\n RTS\n")
    (bells / "rom.hex").write_text(motorola((0xF000, "7E0100 05 39")))
    assert "all 5 bytes compared are the program's\n" in checked(clockhop, "--image", "rom.hex").out


def test_a_wrong_record_is_named(clockhop, bells):
    (bells / "rom.hex").write_text(intel(*RIGHT).replace("F01000", "F01100"))
    done = checked(clockhop, "--image", "rom.hex")
    fault = "clockhop: rom.hex:2: length or check sum of the record is wrong; take the file as it was made\n"
    assert (done.status, done.err) == (2, fault)
    (bells / "rom.hex").write_text(":10F0\nhello\n")
    done = checked(clockhop, "--image", "rom.hex")
    assert (
        done.err
        == "clockhop: rom.hex:1: no record of pairs of hex digits; take the file as the programmer had it\n"
    )


def test_a_habit_of_the_source_that_would_make_it_fit_is_named(clockhop, bells):
    (bells / "bells.asm").write_text(" ORG $F000\nLOOP LDA 0,X\n LDB #2+3*4\n BRA LOOP\n")
    (bells / "rom.hex").write_text(motorola((0xF000, "A600 C60E 20FA")))
    done = checked(clockhop, "--image", "rom.hex")
    assert (
        "image rom.hex: 1 of 6 bytes differ, first at $F001, bells.asm:2: $84 in the program, $00 burned; "
        "with --habit zero-offset-kept all fit\n" in done.out
    )
    assert checked(clockhop, "--image", "rom.hex", "--habit", "zero-offset-kept").status == 0
    (bells / "rom.hex").write_text(motorola((0xF000, "A684 C614 20FA")))
    assert "; with --habit left-to-right all fit\n" in checked(clockhop, "--image", "rom.hex").out
