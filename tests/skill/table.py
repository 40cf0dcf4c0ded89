"""The study's numbers as a table or as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from tests.skill.study import WET, WHEN, Plan, Score, groups_of

FORECAST = ("median_error", "median_late", "cover", "truth_earlier", "truth_later")
BELLS = {"before": "before", "learned": "learned", "surest": "at 95 %"}
HEADS = {"prior": "before", "first": "after, at dip", "last": "after, at bell"}


def summary(scores: Sequence[Score]) -> dict[str, Any]:
    """One group of shops, every wait counted alike. Shares 0..1, hours a coat."""
    return {
        "shops": len(scores),
        "coats": sum(one.waits for one in scores),
        "never_ready": sum(one.never for one in scores),
        "looks_a_coat": sum(one.looks for one in scores) / max(sum(one.waits for one in scores), 1),
        "mean_wait_h": float(np.average([s.wait_h for s in scores], weights=[s.waits for s in scores])),
        "forecast": {when: _forecast(scores, when) for when in WHEN},
        "bells": {which: _bells(scores, which) for which in BELLS},
        "as_wet": {name: _beside(scores, name) for name in WET},
    }


def _forecast(scores: Sequence[Score], when: str) -> dict[str, float]:
    errors = np.concatenate([one.errors[when] for one in scores])
    inside = np.concatenate([one.inside[when] for one in scores])
    if not errors.size:
        return dict.fromkeys(FORECAST, float("nan"))
    return {
        "median_error": float(np.median(np.abs(errors))),
        "median_late": float(np.median(errors)),
        "cover": float(np.mean(inside == 0)),
        "truth_earlier": float(np.mean(inside < 0)),
        "truth_later": float(np.mean(inside > 0)),
    }


def _bells(scores: Sequence[Score], name: str) -> dict[str, float]:
    wet = np.concatenate([getattr(one, name).wet for one in scores])
    lost = np.concatenate([getattr(one, name).lost_h for one in scores])
    shares = {
        f"wet_{key.replace(' ', '_')}": float(np.mean(wet > limit + 1e-9)) for key, limit in WET.items()
    }
    return {**shares, "lost_h": float(lost.mean())}


def _beside(scores: Sequence[Score], name: str) -> dict[str, float]:
    lost = {
        rule: float(np.concatenate([getattr(one, rule)[name].lost_h for one in scores]).mean())
        for rule in ("timer", "number")
    }
    learned = float(np.concatenate([one.learned.lost_h for one in scores]).mean())
    return {
        "timer_lost_h": lost["timer"],
        "number_lost_h": lost["number"],
        "of_timer": learned / lost["timer"] if lost["timer"] else float("nan"),
        "of_number": learned / lost["number"] if lost["number"] else float("nan"),
    }


def as_json(plan: Plan, scores: Sequence[Score], seconds: float) -> dict[str, Any]:
    groups = {name: summary(group) for name, group in groups_of(scores).items() if group}
    return {"plan": vars(plan), "seconds": seconds, "groups": groups}


def table(plan: Plan, scores: Sequence[Score], seconds: float) -> str:
    groups = {name: summary(group) for name, group in groups_of(scores).items() if group}
    lines = [
        f"{plan.shops} shops of {plan.moulds} moulds, seed {plan.seed}; scored after mould {plan.learn_from}; "
        f"{seconds:.0f} s",
        "",
        _row("", list(groups)),
        _row("shops", [str(g["shops"]) for g in groups.values()]),
        _row("coats scored", [str(g["coats"]) for g in groups.values()]),
        _row("never ready, left out", [str(g["never_ready"]) for g in groups.values()]),
        _row("looks a coat", [f"{g['looks_a_coat']:.2f}" for g in groups.values()]),
        _row("mean wait, h", [f"{g['mean_wait_h']:.1f}" for g in groups.values()]),
    ]
    for title, key in (
        ("median error of the ready hour", "median_error"),
        ("its middle too late by", "median_late"),
    ):
        lines += [
            _row(f"{title}, {HEADS[when]}", [_share(g["forecast"][when][key]) for g in groups.values()])
            for when in WHEN
        ]
    lines += [
        _row(f"truth within 10..90 %, {HEADS[when]}", [_sides(g["forecast"][when]) for g in groups.values()])
        for when in WHEN
    ]
    for name in WET:
        key = f"wet_{name.replace(' ', '_')}"
        lines += [
            _row(f"bells on a coat {name}, {head}", [_share(g["bells"][which][key]) for g in groups.values()])
            for which, head in BELLS.items()
        ]
    lines += [
        _row(f"hours lost a coat, {head}", [f"{g['bells'][w]['lost_h']:.2f}" for g in groups.values()])
        for w, head in BELLS.items()
    ]
    for name in WET:
        beside = [g["as_wet"][name] for g in groups.values()]
        lines.append(
            _row(
                f"  timer as often {name}", [f"{b['timer_lost_h']:.2f} ({b['of_timer']:.2f})" for b in beside]
            )
        )
        lines.append(
            _row(
                f"  best number as often {name}",
                [f"{b['number_lost_h']:.2f} ({b['of_number']:.2f})" for b in beside],
            )
        )
    return "\n".join(lines)


def _row(head: str, cells: Sequence[str]) -> str:
    return f"{head:<48}" + "".join(f"{cell:>15}" for cell in cells)


def _share(value: float) -> str:
    return f"{100.0 * value:.1f} %"


def _sides(forecast: dict[str, float]) -> str:
    return f"{100 * forecast['cover']:.0f} ({100 * forecast['truth_earlier']:.0f}/{100 * forecast['truth_later']:.0f})"
