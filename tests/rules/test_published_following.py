"""Published dividers, timers, bit rates and tones come out of the formulas of the part files."""

from fractions import Fraction
from pathlib import Path

import pytest
import yaml
from clockhop.board import families
from clockhop.rules.follow import keep
from clockhop.rules.setting import counted

WORKED = yaml.safe_load(
    (Path(__file__).parents[1] / "reference/worked/following.yaml").read_text(encoding="utf-8")
)["entries"]
USED = [entry for entry in WORKED if "use" in entry]
OUTPUTS = {(family.name, output.name): output for family in families() for output in family.outputs}


def test_every_published_row_is_worked_out_run_or_left_out_with_a_reason():
    assert (len(WORKED), len(USED)) == (65, 48)
    assert all(entry.get("left_out") or entry.get("code") for entry in WORKED if "use" not in entry)
    assert len([entry for entry in WORKED if entry.get("left_out")]) == 7


@pytest.mark.parametrize("entry", USED, ids=lambda entry: entry["id"])
def test_a_published_figure_is_reproduced(entry):
    use = entry["use"]
    output = OUTPUTS[use["part"], use["output"]]
    hz = Fraction(use["hz"])
    exact = Fraction(entry["exact"])
    periods = counted(output, use["numbers"])
    match use["unit"]:
        case "s" | "ms" as unit:
            assert periods / hz * {"s": 1, "ms": 1000}[unit] == exact
        case "Hz":
            assert hz / periods == exact
        case "number of 1 Hz":
            # What stands for 1 Hz: the published slip is named in the table above.
            assert periods / hz == exact
            assert entry["verdict"] == "published_off"
        case "number":
            kept = keep(output, use["numbers"], hz / Fraction(use["wanted_hz"]) / periods)
            (number, *_) = (value for name, value in kept.numbers if name == output.numbers[0].name)
            assert number == int(entry["published"].split()[0])
            # The nearest to what the page works out.
            assert abs(number - exact) <= Fraction(1, 2)
        case "per cent":
            kept = keep(output, use["numbers"], hz / Fraction(use["wanted_hz"]) / periods)
            assert (1 / kept.share - 1) * 100 == exact
