"""What is reported does not hang on where objects lie in memory, nor on the seed of the process."""

import os
import subprocess
import sys

TWO_OPEN_VALUES = """\
        ORG   $1000
READ    JSR   $F000
        TSTB
        BEQ   SECOND
        LDA   ,X
        BRA   WAIT
SECOND  LDA   1,X
WAIT    CMPA  #5
        BEQ   DONE
        CMPB  #7
        BNE   WAIT
DONE    RTS
"""

SHOW = """
import sys
from clockhop.chain import Asked, requests, run
(request,) = requests(Asked(sources=(sys.argv[1],), processor="6809"))
(loop,) = run(request).timings.loops
print(loop.trips.reason)
"""


def test_the_reason_is_the_same_in_every_process(tmp_path):
    source = tmp_path / "clapper.asm"
    source.write_text(TWO_OPEN_VALUES, encoding="ascii")

    def reason(seed):
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [sys.executable, "-c", SHOW, str(source)],
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout

    assert {reason(seed) for seed in ("1", "2", "3", "4")} == {
        "line 2 calls to $F000, which is not in this source; state how often it runs in a timing note\n"
    }
