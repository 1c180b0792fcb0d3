"""The one option of this suite, and what its property tests are drawn from."""

import os

import pytest
from hypothesis import settings

# Every run tries the same cases, so that what is red was made red by a change; no case has to be quick.
settings.register_profile("steady", derandomize=True, deadline=None)
# `pytest --hypothesis-profile searching` draws anew: to look for what the steady cases miss.
settings.register_profile("searching", deadline=None)
settings.load_profile("steady")

# What one test leaves behind is nothing another may find.
os.environ["CLOCKHOP_CACHE"] = "off"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--write-golden", action="store_true", help="write the golden files of the report forms anew"
    )
