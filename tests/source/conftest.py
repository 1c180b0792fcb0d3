import pytest
from clockhop.source import Vocabulary, vocabulary

BARE = {"NOP", "RTS", "CLRA", "DECB", "INCA", "MUL"}
OTHER = {"LDA", "LDB", "LDX", "LDD", "STA", "BRA", "BNE", "JMP", "PSHS", "TFM", "LEAX", "ADDA", "CMPA"}


@pytest.fixture(scope="session")
def words() -> Vocabulary:
    return vocabulary("motorola", BARE | OTHER, BARE)
