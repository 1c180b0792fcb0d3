"""Parts on single bits of ports: what their edges are, and the limits between them."""

import pytest
from clockhop.errors import BoardError
from clockhop.rules import Finding, Holds, access_too_late, access_too_soon
from clockhop.rules.use import uses

STEPPER = (
    "parts: {hands: {family: DRV8825, lines: {step: {at: $8010, bit: 0}, dir: {at: $8010, bit: bit 1}}}}\n"
)
# CLRA 2, STA 5: the pulse is 7 cycles wide
PULSE = "HANDS EQU $8010\nGO LDA #1\n STA HANDS\n CLRA\n STA HANDS\n RTS\n"


def told(case, text, board):
    made = case(text, board=board)
    ((_, found),) = uses(made.timings, made.board, made.handlers).items()
    return [([operation.name for operation in use.operations], use.certain) for use in found]


def test_a_write_tells_which_lines_rise_and_fall_by_what_the_port_held(case):
    text = "GO LDA #2\n STA $8010\n LDA #3\n STA $8010\n STA $8010\n LDA #4\n STA $8010\n RTS\n"
    # the third write changes nothing, the last one two lines at once
    assert told(case, text, STEPPER) == [
        (["dir rises"], True),
        (["step rises"], True),
        (["step falls", "dir falls"], True),
    ]


def test_after_a_value_that_is_not_known_an_edge_is_possible_and_not_certain(case):
    text = "GO LDA $40\n STA $8010\n LDA #0\n STA $8010\n RTS\n"
    assert told(case, text, STEPPER) == [
        (["step rises", "dir rises"], False),
        (["step falls", "dir falls"], False),
    ]


def test_a_step_of_7_cycles_is_too_short_for_a_drv8825_at_4_mhz_only(judge):
    def of(*clocks):
        return list(judge(access_too_soon, PULSE, *clocks, board=STEPPER))

    assert all(isinstance(verdict, Holds) for verdict in of("1 MHz"))
    (finding,) = (verdict for verdict in of("4 MHz") if isinstance(verdict, Finding))
    assert finding.message == (
        "HANDS written 7 cycles after line 3, 1.75 us at 4 MHz; stepper needs 1.9 us; pad 1 cycle"
    )


def test_an_inverted_line_is_high_while_its_bit_is_0(case):
    board = (
        "parts: {clock: {family: i2c, "
        "lines: {scl: {at: $8001, bit: 0, inverted: true}, sda: {at: $8001, bit: 1, inverted: true}}}}\n"
    )
    # START: the data line falls, then the clock
    text = "GO LDA #2\n STA $8001\n LDA #3\n STA $8001\n LDA #2\n STA $8001\n RTS\n"
    assert told(case, text, board) == [(["sda falls"], True), (["scl falls"], True), (["scl rises"], True)]


def test_a_servo_pulse_of_2506_cycles_is_too_long_at_1_mhz_and_fits_at_2_mhz(judge):
    board = "parts: {shutter: {family: servo, lines: {pulse: {at: $8010, bit: 7}}}}\n"
    # LDX 3, 312 turns of 8, CLRA 2, STA 5: 2506 cycles
    text = "GO LDA #$80\n STA $8010\n LDX #312\nHOLD LEAX -1,X\n BNE HOLD\n CLRA\n STA $8010\n RTS\n"
    (finding,) = judge(access_too_late, text, "1 MHz", board=board)
    assert (finding.measured_cycles, finding.message) == (
        2506,
        "$8010 written up to 2506 cycles after line 2, 2.506 ms at 1 MHz; servo allows 2 ms",
    )
    assert [type(verdict) for verdict in judge(access_too_late, text, "2 MHz", board=board)] == [Holds]


@pytest.mark.parametrize(
    ("part", "message"),
    [
        ("{family: stepper, at: $8010}", "stepper has no addresses of its own; write lines:"),
        ("{family: 74138, at: $8010}", "74138 has no addresses of its own; name a part that has"),
        ("{family: 6850, lines: {step: {at: 1, bit: 0}}}", "6850 has no lines; write at: or ports:"),
        (
            "{family: stepper, lines: {stop: {at: 1, bit: 0}}}",
            'unknown key "stop"; nearest: step',
        ),
        ("{family: stepper, lines: {}}", "no line is given; accepted: dir, step"),
        ("{family: stepper, lines: {step: {at: 1}}}", 'key "bit" is missing; add bit: ...'),
    ],
)
def test_lines_that_cannot_be_are_refused(case, part, message):
    with pytest.raises(BoardError) as fault:
        case("GO RTS\n", board=f"parts: {{hands: {part}}}\n")
    assert fault.value.message == message
