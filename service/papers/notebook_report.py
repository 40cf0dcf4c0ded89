"""What came of a notebook, in sentences. Pure."""

from __future__ import annotations

from datetime import datetime

from service.counted import counted
from service.local_time import local
from service.papers.notebook_findings import Findings
from service.papers.notebook_lines import Fault
from service.papers.notebook_plan import LeftOut, Mould
from service.records.facts import NoteBody, WiresBody
from service.records.shop_facts import Site

MOST_NAMES = 30


def report(findings: Findings, site: Site | None) -> list[str]:
    """The whole account, line by line, as the command prints it."""
    plan = findings.plan
    lines = [*plan.how, ""]
    if findings.faults:
        lines += [f"{counted(len(findings.faults), 'line')} cannot be taken:"]
        lines += [
            f"  {text}"
            for fault in findings.faults
            for text in (fault_said(fault), f"  {fault_why(fault)}")
            if text
        ]
    lines += [f"  {left_out_line(left)}" for left in findings.left_out]
    lines += [f"Line {double.line} says the same as line {double.first}." for double in plan.doubles]
    if findings.before:
        lines += [before_line(findings)]
    lines += [f"  {mould_line(mould, site)}" for mould in findings.moulds]
    return [*lines, "", summary(findings)]


def fault_said(fault: Fault) -> str:
    """``Line 7: Heron | 2-4 | 3.11.2024``."""
    return f"Line {fault.line}{f': {fault.said}' if fault.said else f', {fault.mould}'}"


def fault_why(fault: Fault) -> str:
    return f"{fault.message} {fault.todo}"


def left_out_line(left: LeftOut) -> str:
    """``Heron is left out as a whole, 9 lines, because of line 7``."""
    numbers = ", ".join(str(number) for number in left.because[:6])
    more = " and more" if len(left.because) > 6 else ""
    lines = f"line{'s' if len(left.because) > 1 else ''} {numbers}{more}"
    return f"{left.name} is left out as a whole, {counted(left.lines, 'line')}, because of {lines}."


def before_line(findings: Findings) -> str:
    """Those that were taken in at an earlier time."""
    names = [mould.name for mould in findings.before]
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return f"Taken in before, and nothing new of them: {', '.join(names[:MOST_NAMES])}{more}."


def mould_line(mould: Mould, site: Site | None) -> str:
    """``Heron: 9 coats, 3 Nov 2024 to 12 Nov 2024, wires, 2 notes; dewaxed, came out sound``."""
    notes = sum(isinstance(fact.body, NoteBody) and not fact.ours for fact in mould.facts)
    parts = [counted(mould.coats, "coat"), f"{_day(mould.since, site)} to {_day(mould.until, site)}"]
    parts += ["wires"] if any(isinstance(fact.body, WiresBody) for fact in mould.facts) else []
    parts += [counted(notes, "note")] if notes else []
    return f"{mould.name}: {', '.join(parts)}; {end_words(mould)}"


def end_words(mould: Mould) -> str:
    """How it left the shell room and came out; or that it hangs."""
    if mould.ended is None:
        return "still hanging"
    if mould.result is None:
        return str(mould.ended.outcome)
    failings = ", ".join(failing.fault for failing in mould.result.failings)
    return f"{mould.ended.outcome}, came out {mould.result.verdict}{f' ({failings})' if failings else ''}"


def summary(findings: Findings) -> str:
    """One sentence at the end: what was, or would be, recorded."""
    coats = sum(mould.coats for mould in findings.moulds)
    what = f"{counted(len(findings.moulds), 'mould')} with {counted(coats, 'coat')}"
    if not findings.moulds:
        return "Nothing new was taken in." if findings.taken else "There is nothing new to take in."
    return f"Taken in: {what}." if findings.taken else f"To take in: {what}. Nothing is recorded yet."


def _day(at: datetime, site: Site | None) -> str:
    there = local(at, site)
    return f"{there.day} {there:%b %Y}"
