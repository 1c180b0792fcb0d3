"""Turns that all take the same, and what the last one takes differently."""

import pytest
from clockhop.timing import Even, even


@pytest.fixture
def turns(timed):
    def found(text, cpu="6809"):
        timings = timed(text, cpu)
        by_key = even(timings)
        return {loop.name: by_key.get(loop.key) for loop in timings.loops}

    return found


def test_a_nest_of_3_times_11_turns_is_counted_turn_by_turn_at_each_level(turns):
    # LDB # 2, DECB 2, BNE 3, DECA 2: an inner loop of 55, an outer turn of 2 + 55 + 2 + 3.
    text = "RING LDA #3\nOUTER LDB #11\nINNER DECB\n BNE INNER\n DECA\n BNE OUTER\n RTS\n"
    assert turns(text) == {"OUTER": Even(3, 62, 0), "INNER": Even(11, 5, 0)}


def test_the_last_turn_of_djnz_takes_5_t_states_less(turns):
    assert turns(" ORG 0\nRING: LD B,8\nWAIT: DJNZ WAIT\n RET\n", "z80") == {"WAIT": Even(8, 13, -5)}


def test_a_loop_that_is_left_at_its_head_takes_whole_turns_and_a_rest(turns):
    # LDB # 2, TSTB 2, BEQ 3, DECB 2, BRA 3: ten whole turns, and 5 to find that B is 0.
    text = "RING LDB #10\nTEST TSTB\n BEQ DONE\n DECB\n BRA TEST\nDONE RTS\n"
    assert turns(text) == {"TEST": Even(10, 10, 5)}


def test_a_call_of_a_fixed_time_belongs_to_the_turn_and_one_of_a_varying_time_makes_turns_unlike(turns):
    # BSR 7, NOP 2, RTS 5, DECA 2, BNE 3.
    fixed = "RING LDA #4\nAGAIN BSR HIT\n DECA\n BNE AGAIN\n RTS\nHIT NOP\n RTS\n"
    assert turns(fixed) == {"AGAIN": Even(4, 19, 0)}
    varying = fixed.replace("HIT NOP", "HIT TFR A,B\nHOLD DECB\n BNE HOLD")
    assert turns(varying)["AGAIN"] is None


def test_turns_with_a_branch_inside_are_not_called_alike(turns):
    text = "RING LDA #4\nAGAIN BITA #1\n BEQ SKIP\n NOP\nSKIP DECA\n BNE AGAIN\n RTS\n"
    assert turns(text) == {"AGAIN": None}
