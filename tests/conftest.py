"""The one option of this suite."""

import os

import pytest

# What one test leaves behind is nothing another may find.
os.environ["CLOCKHOP_CACHE"] = "off"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--write-golden", action="store_true", help="write the golden files of the report forms anew"
    )
