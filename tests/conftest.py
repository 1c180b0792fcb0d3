"""The one option of this suite."""

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--write-golden", action="store_true", help="write the golden files of the report forms anew"
    )
