"""Times in comments and labels that the code beside them does not take."""

import pytest
from clockhop.rules import claim_off
from clockhop.rules.claim import clock_in, in_comment, in_label

LOOP = "LOOP    LEAX  -1,X\n        BNE   LOOP\n        RTS\n"


def test_a_delay_of_8008_cycles_that_claims_10_ms_is_off(judge):
    text = f"DELAY   LDX   #1000         ; 10 ms\n{LOOP}"
    (finding,) = judge(claim_off, text, "1 MHz")
    assert finding.message == 'DELAY takes 8008 cycles, 8.008 ms at 1 MHz; "10 ms" is written beside it'
    assert (finding.severity, finding.limit.text()) == ("warning", "10 ms")


@pytest.mark.parametrize(
    ("claim", "off"),
    [
        ("; 8 ms", False),
        ("; 8.2 ms", True),
        ("; about 8.2 ms", False),
        ("; ~ 8.5 ms", True),
        ("; 4 ms at 2 MHz", False),
        ("; 8 ms at 2 MHz", True),
        ("; 1 ms each, 8 ms in all", False),
        ("; 1000 turns", False),
        ("; 8008 cycles", False),
        ("; 9008 cycles", True),
        ("; 3 cycles", False),
        ("; timing: takes 10 ms", False),
        ("; 10 us between accesses at 2 MHz", False),
    ],
)
def test_2_percent_are_allowed_and_5_after_about(judge, claim, off):
    verdicts = judge(claim_off, f"DELAY   LDX   #1000         {claim}\n{LOOP}", "1 MHz")
    assert len(verdicts) == off


def test_the_clock_it_was_written_for_goes_before_the_one_that_is_judged(judge):
    text = f"DELAY   LDX   #1000         ; 8 ms\n{LOOP}"
    assert judge(claim_off, text, "2 MHz", written_for="1 MHz") == []
    (finding,) = judge(claim_off, text, "2 MHz")
    assert finding.measured.text() == "4.004 ms"


def test_a_label_claims_and_so_does_the_comment_above(judge):
    (finding,) = judge(claim_off, f"DELAY10MS LDX #1000\n{LOOP}", "1 MHz")
    assert '"DELAY10MS" is written beside it' in finding.message
    assert judge(claim_off, f"DELAY8MS LDX #1000\n{LOOP}", "1 MHz") == []
    (finding,) = judge(claim_off, f"; waits 10 ms\n; for the striker\nDELAY LDX #1000\n{LOOP}", "1 MHz")
    assert finding.place.line == 3
    assert judge(claim_off, f"; waits 10 ms\n RTS\nDELAY LDX #1000\n{LOOP}", "1 MHz") == []


def test_the_comment_of_a_call_claims_what_it_hands_over(judge):
    text = "GO LDB #100\n BSR PAUSE ; 1 ms\n RTS\nPAUSE DECB\n BNE PAUSE\n RTS\n"
    (finding,) = judge(claim_off, text, "1 MHz")
    assert finding.message == (
        'PAUSE called here takes 505 cycles, 505 us at 1 MHz; "1 ms" is written beside it'
    )


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("; 20 ms", ["20 ms"]),
        ("* WAIT 1.5 SEC", ["1.5 s"]),
        ("; 37us or 1.52 ms", ["37 us", "1.52 ms"]),
        ("; 100 microseconds", ["100 us"]),
        ("; $20 ms, PB5 s, 8/16 ms", []),
        ("; 10 ms per turn", []),
        ("; 3 messages, 2 seeds", []),
    ],
)
def test_a_claim_is_a_number_with_a_unit_of_time(text, times):
    assert [claim.said.text() for claim in in_comment(text)] == times


@pytest.mark.parametrize(
    ("label", "times"),
    [
        ("DELAY10MS", ["10 ms"]),
        ("WAIT_1MS", ["1 ms"]),
        ("DLY100US", ["100 us"]),
        ("DELAY2S", ["2 s"]),
        ("PORT2S", []),
        ("MS10", []),
    ],
)
def test_a_label_claims_with_a_number_and_a_unit_at_its_end(label, times):
    assert [claim.said.text() for claim in in_label(label)] == times


def test_a_comment_may_name_one_clock():
    assert clock_in("; 10 ms at 1.8432 MHz").text() == "1.8432 MHz"
    assert clock_in("; 500 kHz").text() == "500 kHz"
    assert clock_in("; 10 ms at 1 MHz, 5 ms at 2 MHz") is None
    assert clock_in("; 10 ms") is None


def test_a_wait_in_a_routine_that_may_pass_it_by_is_judged(judge):
    text = "GO TST $20\n BEQ OUT\n LDX #120 ; 1 MSEC\nL LEAX -1,X\n BNE L\nOUT RTS\n"
    (finding,) = judge(claim_off, text, "1 MHz")
    assert finding.message == 'L takes 960 cycles, 960 us at 1 MHz; "1 MSEC" is written beside it'


def test_bare_times_on_code_that_does_not_wait_tell_when_it_is_due_and_not_how_long_it_takes(judge):
    bell = (
        "GO      STA $8000       ; 97 us\n        LDB #16         ; {}\n"
        "WAIT    DECB\n        BNE WAIT\n        STA $8000\nHERE    BRA HERE\n"
    )
    assert judge(claim_off, bell.format("208 us"), "1 MHz") == []
    # The time of the wait itself, in words or where nothing else is marked, still counts: 2 + 16 * 5 cycles.
    for text in (bell.format("wait 208 us"), bell.format("208 us").replace("97 us", "begins")):
        (found,) = judge(claim_off, text, "1 MHz")
        assert found.message == 'WAIT takes 80 cycles, 80 us at 1 MHz; "208 us" is written beside it'
