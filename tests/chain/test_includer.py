"""A file that is only ever included is told from the files around it, and the main file is named."""

import pytest
from clockhop.chain import Asked, requests, run
from clockhop.errors import ClockhopError


@pytest.fixture
def tower(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for folder in (".git", "code", "parts", "other"):
        (tmp_path / folder).mkdir()
    (tmp_path / "code" / "tower.asm").write_text("* the tower\n INCLUDE bells.asm\n END\n")
    (tmp_path / "code" / "bells.asm").write_text("RING LDA HAMMER\n USE ../parts/ports\n RTS\n")
    (tmp_path / "code" / "apart.asm").write_text(
        "* bells.asm and ports.asm are others\nHANDS LDA MOTOR\n RTS\n"
    )
    (tmp_path / "parts" / "ports").write_text("HAMMER EQU $8000\n")
    return tmp_path


def _problems(source, **asked):
    (request,) = requests(Asked((source,), "6809", **asked))
    return [f"{each.place}: {each.message}" for each in run(request).program.problems]


def test_what_an_included_file_lacks_may_be_in_the_file_that_includes_it(tower):
    (tower / "parts" / "ports").write_text("")
    first, second = _problems("code/bells.asm")
    assert first == (
        "code/bells.asm: is included by code/tower.asm, which may define what is unknown here; name that"
    )
    assert second.endswith("HAMMER is defined nowhere; its value is unknown")
    (problem,) = _problems("code/tower.asm")  # the main file itself is included by none
    assert problem == second
    assert len(_problems("code/apart.asm")) == 1


@pytest.mark.usefixtures("tower")
def test_includes_are_followed_to_the_file_that_nobody_includes():
    (request,) = requests(Asked(("parts/ports",), "6809"))
    with pytest.raises(ClockhopError) as fault:
        run(request)
    assert str(fault.value) == (
        "parts/ports: has no instruction by itself and is included by code/tower.asm; name that"
    )


def test_files_that_include_each_other_are_followed_once(tower):
    (tower / "code" / "tower.asm").write_text(" INCLUDE bells.asm\n")
    (tower / "code" / "bells.asm").write_text(" INCLUDE tower.asm\nRING LDA HAMMER\n RTS\n")
    assert _problems("code/bells.asm")[0].startswith("code/bells.asm: is included by code/tower.asm, ")


def test_a_project_file_whose_symbols_are_elsewhere_names_the_main_file(tower):
    (tower / "code" / "clockhop.yaml").write_text(
        "processor: 6809\nclock: 1 MHz\nparts:\n  serial: {family: 6850, at: HOURS}\n"
    )
    (request,) = requests(Asked(("code/bells.asm",)))
    with pytest.raises(ClockhopError) as fault:
        run(request)
    assert str(fault.value).endswith(
        'unknown symbol "HOURS"; code/bells.asm is included by code/tower.asm: name that'
    )
