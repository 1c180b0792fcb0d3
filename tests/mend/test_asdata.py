"""Counts that other instructions read as data."""


def test_a_count_that_is_read_as_data_is_only_shown(mend):
    text = """\
        ORG   $C000
MAIN    BSR   WAIT
        LDA   WAIT+1
        STA   $100
        BRA   MAIN
WAIT    LDB   #10
SPIN    DECB
        BNE   SPIN
        RTS
        END   MAIN
"""
    mended = mend(text, "2 MHz", "1 MHz", states=0)
    assert mended.mends == [("retime", "WAIT", "shown")]
    (made,) = mended.plan.mends
    assert made.evidence.lines == ("line 3 reads it as data",)
    assert mend(text.replace("WAIT+1", "$101"), "2 MHz", "1 MHz", states=0).mends == [
        ("retime", "WAIT", "proved")
    ]
