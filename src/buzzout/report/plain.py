"""The punch list for other programs: JSON after `references/comparison.schema.json`, and CSV."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping
from typing import Any

from buzzout.circuit import as_step
from buzzout.job.confirm import CAUTION
from buzzout.job.gate import Gate
from buzzout.job.punch import Item, PunchList
from buzzout.language.coverage import Coverage
from buzzout.report.wording import counts, line_of, place, program

FORMAT = 1  # 1: first published form

COLUMNS = (
    "number", "severity", "kind", "parts", "found", "where", "text", "action", "confirm", "why",
    "consequence", "source", "id",
)  # fmt: skip


def as_json(punch: PunchList, inputs: Mapping[str, str]) -> str:
    """The punch list as one JSON object; `inputs` gives the SHA-256 of each input file by name."""
    return json.dumps(_report(punch, inputs), ensure_ascii=True, allow_nan=False, indent=1)


def _report(punch: PunchList, inputs: Mapping[str, str]) -> dict[str, Any]:
    comparison, proof = punch.comparison, punch.comparison.proof
    return {
        "format": FORMAT,
        "program": program(),
        "reference": {"title": comparison.reference.title, "file": comparison.reference.file},
        "found": {"title": comparison.found.title, "file": comparison.found.file},
        "verdict": {"fit_for_power": None if not punch.dangerous else False, "text": punch.verdict},
        "gate": _gate(punch.gate) if punch.gate else None,
        "whole": punch.whole,
        "counts": counts(punch.everything),
        "findings": [_finding(item) for item in punch.items],
        "rules": [_finding(item) for item in punch.rules],
        "proof": {
            "sufficient": proof.sufficient,
            "minimal": proof.minimal,
            "cost": proof.cost,
            "bound": proof.bound,
            "steps": proof.steps,
            "why": list(proof.why),
        },
        "coverage": _coverage(punch.coverage) if punch.coverage else None,
        "departures": [
            {"text": each.text, "reason": each.reason, "at": line_of(each.span)}
            for each in punch.departures
        ],
        "inputs": [{"name": name, "sha256": digest} for name, digest in inputs.items()],
        "cautions": CAUTION,
    }


def _finding(item: Item) -> dict[str, Any]:
    finding = item.finding
    return {
        "id": finding.id,
        "number": item.number,
        "kind": finding.kind,
        "title": finding.title,
        "severity": item.severity,
        "harmless": finding.harmless,
        "parts": list(finding.parts),
        "found": list(finding.found),
        "points": [str(point) for point in finding.points],
        "text": finding.text,
        "action": finding.action,
        "confirm": item.confirm,
        "why": item.why,
        "consequence": item.consequence,
        "source": item.source,
        "remedy": [as_step(edit) for edit in finding.remedy],
        "lines": [line_of(span) for span in finding.spans],
        "reference_lines": [line_of(span) for span in finding.reference_spans],
        "joined": list(finding.joined),
    }


def _gate(gate: Gate) -> dict[str, Any]:
    return {
        "state": gate.state,
        "because": list(gate.because),
        "watch": list(gate.watch),
        "checked": list(gate.checked),
        "unchecked": list(gate.unchecked),
        "accepted": list(gate.accepted),
        "asked": list(gate.asked),
        "fuses": list(gate.fuses),
        "discharge": [
            {
                "name": each.name,
                "plus": str(each.plus),
                "minus": str(each.minus),
                "farads": each.farads,
                "volts": each.volts,
                "ohms": _finite(each.ohms),
                "seconds_to_touch": _finite(each.to_touch),
                "seconds_to_work": _finite(each.to_work),
            }
            for each in gate.discharge
        ],
    }


def _finite(value: float) -> float | None:
    """A number that JSON can hold; None for never, or without end."""
    return value if math.isfinite(value) else None


def _coverage(coverage: Coverage) -> dict[str, Any]:
    return {
        "confirmed": coverage.confirmed,
        "once": coverage.once,
        "contradictions": [
            {"first": line_of(c.first), "second": line_of(c.second), "reason": c.reason}
            for c in coverage.contradictions
        ],
        "unmatched": [line_of(sighting.span) for sighting, _heading in coverage.unmatched],
        "unvisited": [str(point) for point in coverage.unvisited],
        "unread": [part.name for part in coverage.unread],
        "unlooked": [part.name for part in coverage.unlooked],
        "unseen": [part.name for part in coverage.unseen],
    }


def as_csv(punch: PunchList) -> str:
    """The punch list as CSV (RFC 4180): a heading, then one row for each finding."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    writer.writerows([_harmless(value) for value in _row(item)] for item in punch.everything)
    return text.getvalue()


def _row(item: Item) -> tuple[str, ...]:
    finding = item.finding
    return (
        str(item.number), item.severity, finding.kind, " ".join(finding.parts),
        " ".join(finding.found), place(finding), finding.text, finding.action, item.confirm,
        item.why, item.consequence, item.source, finding.id,
    )  # fmt: skip


def _harmless(value: str) -> str:
    """A cell that a spreadsheet will not take for a formula."""
    return f"'{value}" if value.startswith(("=", "+", "-", "@", "\t", "\r")) else value
