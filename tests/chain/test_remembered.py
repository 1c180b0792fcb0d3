"""What an editor gets after an edit is what a run of the edited text from scratch gives, byte for byte."""

from pathlib import Path

from clockhop.chain import Asked, judge, reader, requests, run
from clockhop.errors import ClockhopError
from clockhop.report import Durations, Judged, check, durations, write
from clockhop.timing import Remembered
from hypothesis import given, settings
from hypothesis import strategies as st

TOWER = Path(__file__).parents[2] / "examples_asm" / "belltower"
FILES = ("main.asm", "panel.asm", "display.asm", "serial.asm", "bells.asm")

# What somebody may type in a line of its own.
TYPED = st.sampled_from(
    [
        "        NOP\n",
        "        CLRA\n",
        "        STA     LAMP\n",
        "        LDB     #7\n",
        "        PSHS    A,B\n",
        "        RTS\n",
        "        JSR     CHIME\n",
        "        JSR     NOWHERE\n",
        "        BRA     CHIME\n",
        "        STX     CHIME+1\n",
        "        LDX     #CHIME\n",
        "        STA     ,X+\n",
        "        LDA     TABLE,X\n",
        "        SEI\n",
        "        LDQ\n",
        "* a remark\n",
        "* timing: runs 3..5 times\n",
        "TABLE   FCB     1,2,3\n",
        "        ORG     $E800\n",
    ]
)
EDIT = st.tuples(
    st.sampled_from(["put", "put", "take", "change", "swap"]),
    st.sampled_from(FILES),
    st.integers(0, 400),
    TYPED,
    st.integers(0, 255),
)


def edited(text, way, at, typed, number):
    lines = text.splitlines(keepends=True)
    at %= len(lines)
    match way:
        case "put":
            lines.insert(at, typed)
        case "take":
            del lines[at]
        case "swap":
            lines[at - 1], lines[at] = lines[at], lines[at - 1]
        case "change":
            with_numbers = [i for i, line in enumerate(lines) if "#" in line]
            at = with_numbers[at % len(with_numbers)]
            lines[at] = f"{lines[at].partition('#')[0]}#{number}\n"
    return "".join(lines)


def answer(request, texts, remembered=None):
    """All that is said of a build, as it is written for machines; in an editor it is shown with the same values."""
    try:
        chain = run(request, reader(request, texts), remembered)
    except ClockhopError as fault:
        return str(fault)
    judgement = judge(chain)
    said = check([Judged(chain, judgement.verdicts, judgement.accepted)])
    return write(said, "json") + write(Durations((durations(chain),)), "json")


@settings(max_examples=6)
@given(st.lists(EDIT, min_size=2, max_size=4))
def test_each_edit_of_some_in_a_row_gives_what_the_text_gives_from_scratch(edits):
    (request,) = requests(Asked(sources=(str(TOWER / "main.asm"),)))
    texts = {str(TOWER / name): (TOWER / name).read_bytes() for name in FILES}
    remembered = Remembered()
    answer(request, texts, remembered)
    for way, name, at, typed, number in edits:
        path = str(TOWER / name)
        texts = {**texts, path: edited(texts[path].decode(), way, at, typed, number).encode()}
        assert answer(request, texts, remembered) == answer(request, texts)
