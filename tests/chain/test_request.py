"""What the command line and the project file say together."""

from fractions import Fraction
from pathlib import Path

import pytest
from clockhop.chain import Asked, number, requests
from clockhop.errors import ClockhopError
from clockhop.quantity import Clock

PROJECT = """\
processor: 6809
clock: 1 MHz
written_for: 500 kHz
defines: {PAL: 1, LANES: $10}
include: [shared]
builds:
  tower: {source: tower.asm, defines: {PAL: 0}, include: [tower], clocks: [2 MHz]}
  bells: {source: bells.asm}
"""


@pytest.fixture(autouse=True)
def tower(tmp_path, monkeypatch):
    (tmp_path / "clockhop.yaml").write_text(PROJECT)
    (tmp_path / "code").mkdir()
    monkeypatch.chdir(tmp_path)
    return tmp_path


def mhz(text):
    return Clock(Fraction(text) * 1_000_000)


def test_without_a_source_every_build_of_the_project_is_run():
    assert [request.source for request in requests(Asked())] == ["tower.asm", "bells.asm"]


def test_a_build_adds_to_the_project_and_has_its_own_clocks():
    (request,) = requests(Asked(("tower.asm",)))
    assert request.defines == {"PAL": 0, "LANES": 16}
    assert request.include == ("tower", "shared")
    assert request.clocks == (mhz(2),)
    assert request.written_for == mhz("0.5")


def test_the_command_line_overrides_the_project_file():
    asked = Asked(
        ("tower.asm",), "6309", (mhz(3), mhz(4)), mhz(1), None, ("PAL=%11", "DEMO"), ("mine",), ("$8000",)
    )
    (request,) = requests(asked)
    assert request.processor == "6309"
    assert (request.clocks, request.written_for) == ((mhz(3), mhz(4)), mhz(1))
    assert request.defines == {"PAL": 3, "LANES": 16, "DEMO": 1}
    assert request.include == ("mine", "tower", "shared")
    assert request.project.processor == "6309"


def test_a_source_no_build_names_has_what_the_project_says_for_all():
    (request,) = requests(Asked(("code/other.asm",)))
    assert (request.build, request.defines, request.clocks) == (None, {"PAL": 1, "LANES": 16}, (mhz(1),))


def test_a_source_that_two_builds_name_is_run_for_both(tower):
    (tower / "clockhop.yaml").write_text(
        "processor: 6809\nbuilds:\n  pal: {source: code/a.asm, defines: {PAL: 1}}\n  ntsc: {source: code/a.asm}\n"
    )
    assert [request.build.name for request in requests(Asked(("code/a.asm",)))] == ["pal", "ntsc"]


def test_paths_of_the_project_are_relative_to_its_file(tower, monkeypatch):
    monkeypatch.chdir(tower / "code")
    first, _ = requests(Asked())
    assert first.source == str(tower / "tower.asm")
    assert first.include == (str(tower / "tower"), str(tower / "shared"))


def test_a_project_file_that_is_named_is_used_instead_of_the_nearest(tower):
    (tower / "code" / "other.yaml").write_text("processor: 6309-native\n")
    (request,) = requests(Asked(("tower.asm",), project="code/other.yaml"))
    assert (request.processor, request.clocks) == ("6309-native", ())


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (Asked(("a.asm",), "6809-natve"), '--cpu: unknown processor "6809-natve"; nearest: 6309-native'),
        (Asked(("a.asm",), defines=("PAL=fast",)), 'define PAL: "fast" is not a whole number; write decimal'),
        (Asked(("a.asm",), defines=("=1",)), '-D "=1": no name; write -D NAME=VALUE'),
        (Asked(("a.asm",), defines=("5",)), '-D "5": "5" is no name of a symbol; write -D NAME=VALUE'),
        (
            Asked(("a.asm",), defines=("A-B=2",)),
            '-D "A-B=2": "A-B" is no name of a symbol; write -D NAME=VALUE',
        ),
        (Asked(("a.asm",), project="none.yaml"), "none.yaml: can't be read"),
    ],
)
def test_what_is_wrong_on_the_command_line_is_said_in_a_line(asked, message):
    with pytest.raises(ClockhopError) as fault:
        requests(asked)
    assert str(fault.value).startswith(message)


def test_an_unknown_processor_of_a_project_is_said_at_its_place(tower):
    (tower / "clockhop.yaml").write_text("clock: 1 MHz\nprocessor: 6309-nativ\n")
    with pytest.raises(
        ClockhopError, match=r'^clockhop.yaml:2:12: unknown processor "6309-nativ"; nearest: 6309-native'
    ):
        requests(Asked(("a.asm",)))


def test_without_project_and_processor_the_message_says_what_to_add(tower):
    (tower / "clockhop.yaml").unlink()
    with pytest.raises(ClockhopError, match=r"^a\.asm: no processor is known: .* add --cpu"):
        requests(Asked(("a.asm",)))
    with pytest.raises(ClockhopError, match=r"^no source is named and no clockhop\.yaml is found"):
        requests(Asked())


@pytest.mark.parametrize(
    ("text", "value"),
    [("10", 10), ("$0A", 10), ("0x0a", 10), ("%1010", 10), ("A", None), ("%12", None), ("", None)],
)
def test_numbers_are_decimal_hexadecimal_or_binary(text, value):
    assert number(text) == value


def test_registers_that_the_project_states_hold_for_its_own_processor_alone(tmp_path: Path) -> None:
    board = tmp_path / "clockhop.yaml"
    board.write_text("processor: z180\nprocessor_state: {MWI: 1, REFE: 0}\n")
    (own,) = requests(Asked((str(tmp_path / "a.asm"),)))
    assert [own.cpu().initial[name] for name in ("MWI", "IWI", "REFE")] == [1, 3, 0]
    (other,) = requests(Asked((str(tmp_path / "a.asm"),), "z180-nowait"))
    assert [other.cpu().initial[name] for name in ("MWI", "IWI", "REFE")] == [0, 0, 0]
