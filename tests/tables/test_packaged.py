"""The tables and grammars of the tool come from the cache folder, or from their files where it holds something else."""

import json

import pytest
from clockhop import packaged
from clockhop.tables import packaged as table
from clockhop.tables.packaged import _plain


@pytest.fixture
def cache(monkeypatch, tmp_path):
    monkeypatch.setenv("CLOCKHOP_CACHE", str(tmp_path))
    packaged.parser.cache_clear()
    yield tmp_path
    packaged.parser.cache_clear()


def test_a_table_reads_the_same_from_its_file_and_from_the_cache(cache):
    from_file = table("parts/6850.yaml")
    (kept,) = cache.joinpath("tables").iterdir()
    from_cache = table("parts/6850.yaml")
    assert from_file == from_cache
    assert _plain(from_cache) == json.loads(kept.read_text(encoding="ascii"))
    assert from_cache.mapping()["family"].place == from_file.mapping()["family"].place


@pytest.mark.parametrize(
    "damaged", ["", "{", "[1]", '[1, 1, {"family": 5}]', '[1, 1, {"a": [1, 1, 7]}]', "[1, 1, [7]]"]
)
def test_a_damaged_table_in_the_cache_is_read_from_its_file(cache, damaged):
    from_file = table("parts/6850.yaml")
    (kept,) = cache.joinpath("tables").iterdir()
    kept.write_text(damaged, encoding="ascii")
    assert table("parts/6850.yaml") == from_file


def test_a_grammar_parses_the_same_from_the_cache_and_a_damaged_one_is_made_again(cache):
    text = "[LAMP+2*3,X]"
    wanted = packaged.parser("motorola", "operand", positions=True).parse(text)
    (kept,) = cache.joinpath("grammars").iterdir()
    whole = kept.read_text(encoding="ascii")
    for content in (whole, whole[:1000], "[{}, {}]", whole.replace('"rules"', '"rule"'), "[[], 1]"):
        kept.write_text(content, encoding="ascii")
        packaged.parser.cache_clear()
        assert packaged.parser("motorola", "operand", positions=True).parse(text) == wanted
        kept.write_text(content, encoding="ascii")
