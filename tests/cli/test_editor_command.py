"""`clockhop editor` where what it needs is not installed."""

import subprocess
import sys


def test_without_its_library_one_line_says_what_to_install():
    code = (
        "import sys; sys.modules['lsprotocol'] = None\n"
        "from clockhop.cli.entry import run; sys.exit(run(['editor']))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr == (
        "clockhop: the language server needs pygls 2; install it with pip install 'clockhop[editor]'\n"
    )
