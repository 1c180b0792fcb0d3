"""`check` for machines: shared/schemas/report-check.json says what is in it."""

from ..chain import Comparison
from ..rules import Finding
from .amount import Json, exact, seconds, strobes_json
from .check import BuildChecked, Check, Compared, FindingRow, HoldsRow, OpenRow

SCHEMA_VERSION = 1


def value(report: Check) -> Json:
    """The report as JSON values."""
    return {
        "schema_version": SCHEMA_VERSION,
        "builds": [_build(build) for build in report.builds],
        "findings": [_finding(row) for row in report.findings],
        "holds": [_holds(row) for row in report.holds],
        "unknown": [_open(row) for row in report.opens],
        "address_unknown": [
            {
                "through": row.through,
                "accesses": row.count,
                "file": row.first.path,
                "line": row.first.line,
            }
            for row in report.astray
        ],
        "summary": {
            "errors": report.count("error"),
            "warnings": report.count("warning"),
            "notes": report.count("note"),
            "accepted": report.accepted,
            "requirements_hold": len(report.holds),
            "requirements_unknown": len(report.opens),
            "addresses_not_judged": report.unmapped,
            "statements_not_understood": report.not_understood,
        },
        "coverage": {
            "statements": report.statements,
            "understood": report.statements - report.not_understood,
            "opaque": [
                {"file": unread.file, "line": unread.line, "cause": unread.cause} for unread in report.unread
            ],
        },
        "image": _image(report.image) if report.image else None,
        "cautions": list(report.cautions),
        "known": _known(report.known) if report.known else None,
    }


def _image(image: Comparison) -> Json:
    first = image.first
    return {
        "file": image.path,
        "fits": image.fits,
        "compared": image.compared,
        "differing": image.differing,
        "absent": image.absent,
        "unknown": image.unknown,
        "habit": image.habit or None,
        "first": {
            "file": first.place.path,
            "line": first.place.line,
            "address": first.address,
            "program": first.ours,
            "burned": first.burned,
        }
        if first
        else None,
    }


def _known(known: Compared) -> Json:
    return {
        "file": known.path,
        "left_out": known.left_out,
        "gone": [
            {
                "line": gone.place.line,
                "name": gone.name,
                "file": gone.file,
                "subject": gone.subject,
                "recorded": gone.recorded,
                "found": gone.found,
            }
            for gone in known.gone
        ],
    }


def _build(build: BuildChecked) -> Json:
    return {
        "name": build.name,
        "source": build.source,
        "processor": build.processor,
        "clocks_hz": [exact(clock.hz) for clock in build.clocks],
        "written_for_hz": exact(build.written_for.hz) if build.written_for else None,
        "statements": build.statements,
        "understood": build.understood,
        "too_little": build.too_little or None,
    }


def _finding(row: FindingRow) -> Json:
    finding = row.finding
    return {
        "name": finding.name,
        "severity": finding.severity,
        "file": finding.place.path,
        "line": finding.place.line,
        "column": finding.place.column,
        "message": finding.message,
        "subject": finding.subject,
        "notes": list(finding.notes),
        "builds": list(row.builds),
        **compared(finding),
        "strobe_distance": strobes_json(finding.strobes) if finding.strobes else None,
        "short_before": finding.short_before,
        "hurts": finding.hurts,
        "mend": row.mend,
    }


def compared(finding: Finding) -> Json:
    """What was measured and what it was compared with."""
    return {
        "measured_cycles": finding.measured_cycles,
        **seconds("measured", finding.measured),
        **seconds("limit", finding.limit),
        "clock_hz": exact(finding.clock.hz) if finding.clock else None,
        "holds_up_to_hz": exact(finding.holds_up_to.hz) if finding.holds_up_to else None,
    }


def _holds(row: HoldsRow) -> Json:
    up_to = row.holds.holds_up_to
    return {
        "subject": row.holds.subject,
        "build": row.build,
        **seconds("measured", row.holds.measured),
        **seconds("limit", row.holds.limit),
        "holds_up_to_hz": exact(up_to.hz) if up_to else None,
    }


def _open(row: OpenRow) -> Json:
    return {"subject": row.open.subject, "reason": row.open.reason, "build": row.build}
