"""`clockhop durations` on a panel driver of the bell tower."""

import json
import re
from fractions import Fraction
from importlib.resources import files

import jsonschema
import pytest

# Cycles by hand from the processor's manual: STA extended 5, LDB # 2, DECB 2, BNE 3, LDX # 3, LEAX 5, RTS 5, LBSR 9.
PANEL = """\
LCDCMD  EQU   $8001
        ORG   $C000
START   STA   LCDCMD
        LDB   #11
WAIT    DECB
        BNE   WAIT
        STA   LCDCMD
        LDA   #20
        LBSR  PAUSE
        LBSR  DELAY
        RTS
PAUSE   DECA
        BNE   PAUSE
        RTS
DELAY   LDX   #25000
LOOP    LEAX  -1,X
        BNE   LOOP
        RTS
POLL    LDA   $9000
        BITA  #1
        BEQ   POLL
        RTS
        END   START
"""


@pytest.fixture
def panel(folder):
    (folder / "panel.asm").write_text(PANEL)
    return "panel.asm"


@pytest.fixture
def report(clockhop, panel):
    def make(*options):
        result = clockhop("durations", panel, "--cpu", "6809", "--form", "json", *options)
        assert result.status == 0, result.err
        value = json.loads(result.out)
        schema = files("clockhop.shared").joinpath("schemas/report-durations.json").read_text()
        jsonschema.validate(value, json.loads(schema))
        return value

    return make


def named(rows, name):
    (found,) = [row for row in rows if row["name"] == name]
    return found


def test_the_wait_of_25000_turns_takes_200008_cycles_and_with_its_call_200017(report):
    delay = named(report()["routines"], "DELAY")
    assert (delay["file"], delay["line"], delay["entry"]) == ("panel.asm", 15, "called")
    assert delay["cycles"] == {"kind": "exact", "min": 200008, "max": 200008, "formula": None, "reason": None}
    assert delay["with_call"]["min"] == 200017


def test_times_are_exact_fractions_beside_a_rounded_decimal(report):
    delay = named(report("--clock", "1.8432MHz", "--clock", "315/88 MHz")["routines"], "DELAY")
    slow, fast = delay["times"]
    assert slow["hz"] == 1843200
    assert slow["min"] == slow["max"] == "25001/230400"  # 200008 / 1843200
    assert slow["min_seconds"] == 0.108511285
    assert fast["hz"] == "39375000/11"
    assert Fraction(fast["min"]) == Fraction(200008) / Fraction("39375000/11")


def test_a_loop_is_named_for_the_label_at_its_head_and_says_its_turns(report):
    loop = named(report()["loops"], "LOOP")
    assert (loop["line"], loop["routine"]) == (16, "DELAY")
    assert (loop["trips"]["kind"], loop["trips"]["min"], loop["cycles"]["min"]) == ("exact", 25000, 200000)


def test_a_count_from_the_caller_is_a_formula_and_its_call_site_a_figure(report):
    value = report("--clock", "1MHz")
    pause = named(value["routines"], "PAUSE")
    assert pause["cycles"] == {
        "kind": "formula",
        "min": 10,
        "max": 1285,
        "formula": "5*A + 5",
        "reason": None,
    }
    call = named(value["calls"], "PAUSE")
    assert (call["line"], call["cycles"]["min"], call["values"]["A"]) == (9, 105, 20)
    assert call["times"][0]["min"] == "21/200000"


def test_a_loop_without_a_bound_is_unknown_with_its_reason(report):
    poll = named(report("--clock", "1MHz")["loops"], "POLL")
    assert (poll["cycles"]["kind"], poll["cycles"]["min"], poll["cycles"]["max"]) == ("unknown", 10, None)
    assert "timing note" in poll["cycles"]["reason"]
    assert (poll["times"][0]["min"], poll["times"][0]["max"]) == ("1/100000", None)


def test_a_gap_that_is_asked_for_is_62_bus_cycles(report):
    (gap,) = report("--gaps-at", "LCDCMD", "--clock", "2MHz")["gaps"]
    assert (gap["of"], gap["address"], gap["fewest"], gap["most"]) == ("LCDCMD", 0x8001, 62, 62)
    assert gap["first"] == {"file": "panel.asm", "line": 3, "access": "write", "address": 0x8001}
    assert gap["then"]["line"] == 7
    assert gap["times"][0]["min"] == "31/1000000"


def test_a_gap_can_be_asked_for_by_address_as_well(report):
    assert [gap["fewest"] for gap in report("--gaps-at", "$8001")["gaps"]] == [62]
    assert [gap["fewest"] for gap in report("--gaps-at", "0x8001")["gaps"]] == [62]


def test_each_part_of_the_board_has_its_gaps(folder, report):
    (folder / "clockhop.yaml").write_text(
        "processor: 6809\nclock: 1 MHz\nparts:\n  lcd: {family: 44780, ports: {command: LCDCMD}}\n"
    )
    value = report()
    assert [(gap["of"], gap["fewest"]) for gap in value["gaps"]] == [("lcd", 62)]
    assert value["builds"][0]["clocks_hz"] == [1000000]


def test_the_text_form_is_a_table_of_cycles_and_times(clockhop, panel):
    out = clockhop("durations", panel, "--cpu", "6809", "--clock", "2MHz").out
    rows = {line.split("  ")[0]: line.split() for line in out.splitlines()}
    assert rows["DELAY"] == ["DELAY", "panel.asm:15", "200008", "200017", "100.004", "ms"]
    assert "  with A = 20  panel.asm:9   105" in out


def test_a_pair_of_registers_is_named_where_it_counts_and_where_it_points(clockhop, folder):
    (folder / "lamp.asm").write_text(
        "        ORG  100H\nSTART:  LD   BC,2000\n        CALL WAIT\n        LD   HL,TEXT\n"
        "        CALL SHOW\n        HALT\n"
        "WAIT:   DEC  BC\n        LD   A,B\n        OR   C\n        JR   NZ,WAIT\n        RET\n"
        "SHOW:   LD   A,(HL)\n        INC  HL\n        OR   A\n        JR   NZ,SHOW\n        RET\n"
        'TEXT:   DEFB "BELL",0\n        END  START\n'
    )
    printed = clockhop("durations", "lamp.asm", "--cpu", "z80", "--clock", "2MHz").out
    # 26 a turn, 5 less in the last, 10 for RET.
    assert re.search(r"^WAIT +lamp\.asm:7 +26\*BC \+ 5 ", printed, re.MULTILINE)
    assert re.search(r"^  with BC = 2000 +lamp\.asm:3 +52005 ", printed, re.MULTILINE)
    # Five turns of 7 + 6 + 4 + 12, 5 less in the last, 10 for RET.
    assert "depends on what HL points to" in printed
    assert re.search(r"^  with HL = TEXT +lamp\.asm:5 +150 ", printed, re.MULTILINE)


def test_the_lines_form_stands_alone_in_a_build_log(clockhop, panel):
    lines = clockhop(
        "durations", panel, "--cpu", "6809", "--clock", "2MHz", "--form", "lines"
    ).out.splitlines()
    assert "panel.asm:15:9: note: duration: DELAY takes 200008 cycles, 100.004 ms at 2 MHz" in lines


def test_a_report_can_be_written_to_a_file_and_never_over_its_source(clockhop, folder, panel):
    assert clockhop("durations", panel, "--cpu", "6809", "--form", "json", "-o", "out.json").out == ""
    assert json.loads((folder / "out.json").read_text())["schema_version"] == 1

    result = clockhop("durations", panel, "--cpu", "6809", "-o", panel)
    assert (result.status, (folder / panel).read_text()) == (2, PANEL)
    assert (
        result.err
        == "clockhop: panel.asm: is a source of this report and stays as it is; name another file\n"
    )


def test_several_sources_are_several_programs(clockhop, folder, panel):
    (folder / "bell.asm").write_text("RING    NOP\n        RTS\n")
    value = json.loads(clockhop("durations", panel, "bell.asm", "--cpu", "6809", "--form", "json").out)
    assert [build["source"] for build in value["builds"]] == ["bell.asm", "panel.asm"]
    ring = named(value["routines"], "RING")
    assert (ring["file"], ring["cycles"]["min"]) == ("bell.asm", 7)


def test_a_chain_of_1200_routines_is_counted(clockhop, folder):
    # Each routine but the last adds JSR extended 8 and RTS 5.
    chain = "".join(f"R{n}  JSR   R{n + 1}\n      RTS\n" for n in range(1200))
    (folder / "deep.asm").write_text(chain + "R1200 RTS\n")
    value = json.loads(clockhop("durations", "deep.asm", "--cpu", "6809", "--form", "json").out)
    assert named(value["routines"], "R0")["cycles"]["min"] == 1200 * 13 + 5


DELAY = "        ORG   $C000\nDELAY   LDX   #25000\nLOOP    LEAX  -1,X\n        BNE   LOOP\n        RTS\n"


def test_a_time_read_off_a_scope_implies_a_clock(clockhop, folder):
    (folder / "wait.asm").write_text(DELAY)
    command = ("durations", "wait.asm", "--cpu", "6809", "--measured")
    # 200008 cycles in 199.3 ms are 1.0035524 MHz, 200000 in 0.2 s 1 MHz.
    assert clockhop(*command, "DELAY=199.3ms", "--form", "lines").out.splitlines()[-1] == (
        "wait.asm:2:9: note: measured: DELAY: 200008 cycles in 199.3 ms are a bus clock of 1.003552 MHz"
    )
    assert clockhop(*command, "LOOP=0.2s").out.endswith(
        "\nLOOP: 200000 cycles in 200 ms are a bus clock of 1 MHz\n"
    )
    value = json.loads(clockhop(*command, "DELAY=199.3ms", "--form", "json").out)
    schema = files("clockhop.shared").joinpath("schemas/report-durations.json").read_text()
    jsonschema.validate(value, json.loads(schema))
    assert (value["measured"][0]["slowest_hz"], value["measured"][0]["fewest"]) == ("2000080000/1993", 200008)


@pytest.mark.parametrize(
    ("measured", "message"),
    [
        ("DELY=1ms", '--measured "DELY=1ms": no routine or loop "DELY"; nearest: DELAY'),
        ("DELAY=0ms", '--measured "DELAY=0ms": no time; write LABEL=TIME, such as DELAY=499.3ms'),
        ("DELAY", 'time "": not a number and a unit; write it like 52.6us'),
    ],
)
def test_a_measured_time_that_says_nothing_is_an_error(clockhop, folder, measured, message):
    (folder / "wait.asm").write_text(DELAY)
    result = clockhop("durations", "wait.asm", "--cpu", "6809", "--measured", measured)
    assert (result.status, result.err) == (2, f"clockhop: {message}\n")
