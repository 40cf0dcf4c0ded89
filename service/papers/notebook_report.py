"""What came of a notebook, in sentences. Pure."""

from __future__ import annotations

from datetime import datetime

from service.local_time import local, names_of_months
from service.papers.notebook_findings import Findings
from service.papers.notebook_lines import Double, Fault
from service.papers.notebook_plan import LeftOut, Mould
from service.records.facts import NoteBody, WiresBody
from service.records.shop_facts import Site
from service.terms import term
from service.voice import say, say_many

MOST_NAMES = 30


def report(findings: Findings, site: Site | None) -> list[str]:
    """The whole account, line by line, as the command prints it."""
    plan = findings.plan
    lines = [*plan.how, ""]
    if findings.faults:
        lines += [f"{faults_line(len(findings.faults))}:"]
        lines += [
            f"  {text}"
            for fault in findings.faults
            for text in (fault_said(fault), f"  {fault_why(fault)}")
            if text
        ]
    lines += [f"  {left_out_line(left)}" for left in findings.left_out]
    lines += [double_line(double) for double in plan.doubles]
    if findings.before:
        lines += [before_line(findings)]
    lines += [f"  {mould_line(mould, site)}" for mould in findings.moulds]
    return [*lines, "", summary(findings)]


def fault_said(fault: Fault) -> str:
    """``Line 7: Heron | 2-4 | 3.11.2024``."""
    line = say("Line {line}", line=fault.line)
    return f"{line}: {fault.said}" if fault.said else ", ".join((line, fault.mould))


def faults_line(number: int) -> str:
    """``3 lines cannot be taken``."""
    return say_many("{number} line cannot be taken", "{number} lines cannot be taken", number)


def double_line(double: Double) -> str:
    return say("Line {line} says the same as line {first}.", line=double.line, first=double.first)


def fault_why(fault: Fault) -> str:
    return f"{fault.message} {fault.todo}"


def left_out_line(left: LeftOut) -> str:
    """``Heron is left out as a whole, 9 lines, because of line 7``."""
    numbers = ", ".join(str(number) for number in left.because[:6])
    if len(left.because) > 6:
        numbers = say("{numbers} and more", numbers=numbers)
    return say(
        "{name} is left out as a whole, {lines}, because of {because}.",
        name=left.name,
        lines=say_many("{number} line", "{number} lines", left.lines),
        because=say_many("line {numbers}", "lines {numbers}", len(left.because), numbers=numbers),
    )


def before_line(findings: Findings) -> str:
    """Those that were taken in at an earlier time."""
    names = [mould.name for mould in findings.before]
    told, rest = ", ".join(names[:MOST_NAMES]), len(names) - MOST_NAMES
    if rest > 0:
        told = say("{first} and {rest} more", first=told, rest=rest)
    return say("Taken in before, and nothing new of them: {names}.", names=told)


def mould_line(mould: Mould, site: Site | None) -> str:
    """``Heron: 9 coats, 3 Nov 2024 to 12 Nov 2024, wires, 2 notes; dewaxed, came out sound``."""
    notes = sum(isinstance(fact.body, NoteBody) and not fact.ours for fact in mould.facts)
    since, until = _day(mould.since, site), _day(mould.until, site)
    parts = [
        say_many("{number} coat", "{number} coats", mould.coats),
        say("{start} to {end}", start=since, end=until),
    ]
    parts += [say("wires")] if any(isinstance(fact.body, WiresBody) for fact in mould.facts) else []
    parts += [say_many("{number} note", "{number} notes", notes)] if notes else []
    return f"{mould.name}: {', '.join(parts)}; {end_words(mould)}"


def end_words(mould: Mould) -> str:
    """How it left the shell room and came out; or that it hangs."""
    if mould.ended is None:
        return say("still hanging")
    if mould.result is None:
        return term(mould.ended.outcome)
    outcome, verdict = term(mould.ended.outcome), term(mould.result.verdict)
    failings = ", ".join(term(failing.fault) for failing in mould.result.failings)
    if failings:
        return say(
            "{outcome}, came out {verdict} ({failings})", outcome=outcome, verdict=verdict, failings=failings
        )
    return say("{outcome}, came out {verdict}", outcome=outcome, verdict=verdict)


def summary(findings: Findings) -> str:
    """One sentence at the end: what was, or would be, recorded."""
    coats = sum(mould.coats for mould in findings.moulds)
    what = say(
        "{moulds} with {coats}",
        moulds=say_many("{number} mould", "{number} moulds", len(findings.moulds)),
        coats=say_many("{number} coat", "{number} coats", coats),
    )
    if not findings.moulds:
        return say("Nothing new was taken in.") if findings.taken else say("There is nothing new to take in.")
    return (
        say("Taken in: {what}.", what=what)
        if findings.taken
        else say("To take in: {what}. Nothing is recorded yet.", what=what)
    )


def _day(at: datetime, site: Site | None) -> str:
    there = local(at, site)
    month = names_of_months("abbreviated")[there.month]
    return say("{day} {month} {year}", day=there.day, month=month, year=there.year)
