"""How well the learning does in hidden shops.

    python -m tests.skill [--shops 100] [--moulds 40] [--seed 1] [--processes 2] [--json]

A hundred shops are drawn wider than the service thinks; every third obeys laws the model does not know. Each dips forty
moulds by the learned bell, with noisy weighings and hands. Printed: how far the ready hours lie off before anything is
learned and after ten moulds, and how the bell does beside timers and rules that were tuned with hindsight.
"""

from __future__ import annotations

import argparse
import json
import time

from tests.skill.study import Plan, study, to_stderr
from tests.skill.table import as_json, table


def main(arguments: list[str] | None = None) -> None:
    asked = argparse.ArgumentParser(prog="python -m tests.skill", description=(__doc__ or "").splitlines()[0])
    asked.add_argument("--shops", type=int, default=100)
    asked.add_argument("--moulds", type=int, default=40)
    asked.add_argument("--learn-from", type=int, default=10, help="moulds before any is scored (10)")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--members", type=int, default=Plan.members)
    asked.add_argument("--turns", type=int, default=Plan.turns, help="how often members are played (2)")
    asked.add_argument("--own", type=float, default=1.0, help="each mould's own scatter, so many times (1)")
    asked.add_argument("--weighed-every", type=int, default=2, help="one mould in so many is weighed (2)")
    asked.add_argument("--processes", type=int, default=1)
    asked.add_argument("--json", action="store_true", help="print JSON, not a table")
    given = asked.parse_args(arguments)
    plan = Plan(
        given.shops,
        given.moulds,
        given.learn_from,
        given.seed,
        given.members,
        given.turns,
        given.own,
        given.weighed_every,
    )
    began = time.monotonic()
    scores = study(plan, given.processes, to_stderr)
    seconds = time.monotonic() - began
    print(
        json.dumps(as_json(plan, scores, seconds), indent=1) if given.json else table(plan, scores, seconds)
    )


if __name__ == "__main__":
    main()
