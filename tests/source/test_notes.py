from fractions import Fraction

import pytest
from clockhop.quantity import Duration, parse_clock
from clockhop.source import Accept, Leave, Runs, Takes, With, WrittenFor, parse


def ms(text: str) -> Duration:
    return Duration(Fraction(text) / 1000)


NOTES = [
    ("takes 20 ms", [Takes("exact", ms("20"))]),
    ("takes 52.6us", [Takes("exact", ms("0.0526"))]),
    ("TAKES 20 ms within 1%", [Takes("exact", ms("20"), ms("0.2"))]),
    ("takes 20 ms within 0.5 %", [Takes("exact", ms("20"), ms("0.1"))]),
    ("takes 20 ms within 5 us", [Takes("exact", ms("20"), ms("0.005"))]),
    ("takes at least 20 ms", [Takes("at_least", ms("20"))]),
    ("takes at most 5 ms", [Takes("at_most", ms("5"))]),
    ("runs 8 times", [Runs(8, 8)]),
    ("runs 1 to 200 times", [Runs(1, 200)]),
    ("written for 1.8432 MHz", [WrittenFor(parse_clock("1.8432 MHz"))]),
    ("with A = 1 to 50", [With("A", 1, 50)]),
    ("with X = 1000", [With("X", 1000, 1000)]),
    ("with X=$3E8", [With("X", 1000, 1000)]),
    ("with A = 3, B = 0x10 and BELLS = 1 to 5", [With("A", 3, 3), With("B", 16, 16), With("BELLS", 1, 5)]),
    ("leave because the beeper needs it", [Leave("the beeper needs it")]),
    ("leave until the board is measured", [Leave("until the board is measured")]),
    ("accept access-too-soon because the panel is off", [Accept("access-too-soon", "the panel is off")]),
]


@pytest.mark.parametrize(("words_of_note", "notes"), NOTES, ids=[text for text, _ in NOTES])
def test_a_note_says_this(words, words_of_note, notes):
    source = parse(f"TOLL NOP ; timing: {words_of_note}\n".encode(), "bell.asm", words)
    assert [placed.note for placed in source.notes] == notes
    assert source.bad_notes == ()


def test_a_comment_holds_several_notes_each_with_its_key(words):
    source = parse(b"* Timing: runs 8 times; timing: takes 20 ms ;\n", "bell.asm", words)
    assert [placed.note for placed in source.notes] == [Runs(8, 8), Takes("exact", ms("20"))]
    spans = [source.data[placed.start : placed.end] for placed in source.notes]
    assert spans == [b"Timing: runs 8 times", b"timing: takes 20 ms"]


def test_a_note_stands_in_an_unmarked_comment_too(words):
    source = parse(b" NOP timing: takes 20 ms\n LDA #1 timing: runs 3 times\n", "bell.asm", words)
    assert [(placed.line, placed.note) for placed in source.notes] == [
        (1, Takes("exact", ms("20"))),
        (2, Runs(3, 3)),
    ]


def test_a_note_in_latin_1_and_in_utf_8_has_byte_spans(words):
    for encoding in ("latin-1", "utf-8"):
        source = parse("; é timing: takes 20 ms".encode(encoding), "bell.asm", words)
        (placed,) = source.notes
        assert source.data[placed.start : placed.end] == b"timing: takes 20 ms"


def test_a_string_with_the_word_is_no_note(words):
    assert parse(b' FCC "timing: takes ages"\n', "bell.asm", words).bad_notes == ()


BAD = [
    (
        "take 20 ms",
        'bell.asm:1:16: timing note "take 20 ms" is not understood; nearest: takes',
    ),
    (
        "takes 20",
        'bell.asm:1:22: timing note "takes 20" is not understood; write takes 20 ms, takes 20 ms within 1%, '
        "takes at least 20 ms or takes at most 20 ms",
    ),
    (
        "takes 20 parsecs",
        'bell.asm:1:16: timing note "takes 20 parsecs": time "20 parsecs": unknown unit; '
        "write s, ms, us or ns",
    ),
    (
        "runs 200 to 1 times",
        'bell.asm:1:16: timing note "runs 200 to 1 times": runs 200 to 1 times; the first number is the '
        "smaller one, from 0",
    ),
    (
        "runs eight times",
        'bell.asm:1:21: timing note "runs eight times" is not understood; write runs 8 times or '
        "runs 1 to 200 times",
    ),
    (
        "",
        'bell.asm:1:15: timing note "" is not understood; accepted: accept, gives, leave, runs, takes, with, written',
    ),
]


@pytest.mark.parametrize(("text", "message"), BAD, ids=[text for text, _ in BAD])
def test_a_note_that_is_not_understood_is_kept_with_its_place(words, text, message):
    source = parse(f" NOP ; timing: {text}".rstrip().encode(), "bell.asm", words)
    assert source.notes == ()
    assert [f"{bad.place}: {bad.message}" for bad in source.bad_notes] == [message]
