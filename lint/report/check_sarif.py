"""`check` for services that gather findings: SARIF 2.1.0, a run for each build."""

import json
import os
from collections import Counter
from collections.abc import Iterator
from typing import Final
from urllib.parse import quote

from .. import __version__
from ..rules import RULES, Rule
from .amount import Json
from .check import BuildChecked, Check, FindingRow
from .check_json import compared
from .fingerprint import Identity, identity, numbered, relative

SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
BASE: Final = "SOURCES"
FINGERPRINT: Final = "clockhop/v1"

_ORDER: Final = {rule.name: number for number, rule in enumerate(RULES)}


def sarif(report: Check) -> str:
    """The report as SARIF 2.1.0. Paths are relative to the folder the command runs in, columns count characters."""
    runs = [_run(report, number) for number in range(len(report.builds))]
    return json.dumps({"$schema": SCHEMA, "version": "2.1.0", "runs": runs}, indent=2) + "\n"


def _run(report: Check, number: int) -> Json:
    build = report.builds[number]
    return {
        "tool": {
            "driver": {
                "name": "clockhop",
                "version": __version__,
                "semanticVersion": __version__,
                "rules": [_rule(rule) for rule in RULES],
            }
        },
        "automationDetails": {"id": f"clockhop/{relative(build.source, '')}/{build.name}/"},
        "originalUriBaseIds": {BASE: {"description": {"text": "The folder the command was run in."}}},
        "columnKind": "unicodeCodePoints",
        "invocations": [{"executionSuccessful": True, "toolExecutionNotifications": list(_notified(build))}],
        "results": list(_results(report, number)),
        "properties": {
            "processor": build.processor,
            "clocks": [clock.text() for clock in build.clocks],
            "statements": build.statements,
            "understood": build.understood,
        },
    }


def _notified(build: BuildChecked) -> Iterator[Json]:
    if build.too_little:
        yield {"level": "error", "message": {"text": build.too_little}}


def _rule(rule: Rule) -> Json:
    return {
        "id": rule.name,
        "shortDescription": {"text": rule.summary},
        "fullDescription": {"text": rule.parts[0]},
        "help": {"text": "\n\n".join(rule.parts)},
    }


def _results(report: Check, number: int) -> Iterator[Json]:
    seen: Counter[Identity] = Counter()
    for row in report.findings:
        if number in row.runs:
            one = identity(row, report.builds[number].clocks, report.builds[number].root)
            yield _result(row, numbered(one, seen[one]), report.builds[number])
            seen[one] += 1


def _result(row: FindingRow, fingerprint: str, build: BuildChecked) -> Json:
    finding = row.finding
    return {
        "ruleId": finding.name,
        "ruleIndex": _ORDER[finding.name],
        "level": finding.severity,
        "message": {"text": finding.message},
        "locations": [{"physicalLocation": _location(row)}],
        "partialFingerprints": {FINGERPRINT: fingerprint},
        "properties": {
            "build": build.name,
            "subject": finding.subject,
            "notes": list(finding.notes),
            **compared(finding),
            "hurts": finding.hurts,
        },
    }


def _location(row: FindingRow) -> Json:
    place = row.finding.place
    file = {"uri": quote(os.fsencode(relative(place.path, ""))), "uriBaseId": BASE}
    if not place.line:
        return {"artifactLocation": file}
    column = {"startColumn": row.character} if row.character else {}
    return {"artifactLocation": file, "region": {"startLine": place.line, **column}}
