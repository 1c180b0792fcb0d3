"""What a source includes from outside its tree is let in by -I alone, and never written."""

import pytest

PROJECT = "processor: 6809\nclock: 1 MHz\nwritten_for: 1 MHz\n"
MAIN = " ORG $1000\nSTART BSR HOLD\n RTS\n INCLUDE ../lib/hold.inc\n"
HOLD = "HOLD LDX #1000\nHOLD1 LEAX -1,X\n BNE HOLD1 ; timing: takes 8 ms\n RTS\n"


@pytest.fixture
def folder(tmp_path):
    """A project in a folder of its own, beside the library it includes."""
    for name in ("tower", "lib"):
        (tmp_path / name).mkdir()
    (tmp_path / "tower" / "clockhop.yaml").write_text(PROJECT)
    (tmp_path / "tower" / "main.asm").write_text(MAIN)
    (tmp_path / "lib" / "hold.inc").write_text(HOLD)
    return tmp_path / "tower"


@pytest.mark.usefixtures("folder")
def test_an_include_outside_the_tree_is_not_read_and_the_option_that_lets_it_in_is_named(clockhop):
    told = clockhop("check", "main.asm").out
    assert (
        'main.asm:4:2: warning: not-understood: include file "../lib/hold.inc" is outside the tree of .; '
        "-I ../lib lets its folder in; its symbols are unknown"
    ) in told


def test_a_link_out_of_the_tree_is_followed_before_it_is_judged(folder, clockhop):
    (folder / "near.inc").symlink_to(folder.parent / "lib" / "hold.inc")
    (folder / "main.asm").write_text(MAIN.replace("../lib/hold.inc", "near.inc"))
    assert '"near.inc" is outside the tree of .' in clockhop("check", "main.asm").out


@pytest.mark.parametrize("top", [".git", "clockhop.yaml"])
def test_the_tree_begins_where_version_control_or_the_project_file_does(folder, clockhop, top):
    if top == "clockhop.yaml":
        (folder / top).rename(folder.parent / top)
    else:
        (folder.parent / top).mkdir()
    assert "0 of 8 statements not understood" in clockhop("check", "main.asm", "--cpu", "6809").out


def test_what_was_let_in_is_mended_by_nobody(folder, clockhop):
    done = clockhop("mend", "main.asm", "-I", "../lib", "--clock", "2MHz", "--write")
    assert done.status == 2
    assert "../lib/hold.inc: is outside the tree of . and is not written, nor is anything else" in done.err
    assert (folder.parent / "lib" / "hold.inc").read_text() == HOLD
