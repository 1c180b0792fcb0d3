"""`check --record` and `check --known`: the file of findings that are known."""

import os

from .. import looked
from ..chain import Asked, judge, requests, run
from ..errors import Place, RecordError
from ..report import Check, Judged, check
from ..report.known import Known, compare, read_known, record
from .output import refuse_source, store
from .recall import show


def without_known(report: Check, path: str) -> Check:
    """The report without what is recorded at `path`; raises RecordError where no record can be read."""
    return compare(report, _load(path))


def make_record(what: Asked, path: str, grow: bool) -> int:
    """Records at `path` what is found; a record that is there takes in more only where `grow` asks for it.

    Raises RecordError where it would, and where what is there is no record.
    """
    old = _load(path) if os.path.exists(path) else None
    chains = [run(request) for request in requests(what)]
    judged = []
    for chain in chains:
        judgement = judge(chain)
        judged.append(Judged(chain, judgement.verdicts, judgement.accepted))
    report = check(judged)
    made = record(report, path, old)
    if old and made.more and not grow:
        fault = f"{made.more} more would become known; see them with --known, then add --grow to take them in"
        raise RecordError(fault, Place(path))
    refuse_source(path, chains)
    store(path, made.text)
    change = f", {made.more} more and {made.fewer} fewer than before" if old else ""
    too_little = [f"{build.name}: {build.too_little}\n" for build in report.builds if build.too_little]
    show(f"{path}: {made.count} recorded as known{change}\n{''.join(too_little)}")
    return int(bool(too_little))


def _load(path: str) -> Known:
    try:
        return read_known(looked.read(path).decode("utf-8"), path)
    except (OSError, UnicodeDecodeError) as fault:
        reason = (getattr(fault, "strerror", None) or "is no text").lower()
        raise RecordError(f"can't be read ({reason}); make one with --record", Place(path)) from None
