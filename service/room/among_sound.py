"""How a shell lies among this foundry's own sound shells: the middle, and spreads off it that odd ones do not bend.

Modified z-scores: median and median absolute deviation, 1.4826 of which are one standard deviation where shells lie
as on a bell curve; more than 3.5 are held to be an outlier (B. Iglewicz and D. C. Hoaglin, "How to Detect and Handle
Outliers", ASQC 1993; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from service.room.audit_views import AmongSound
from service.room.views import Factor, ShellSummary

ENOUGH = 8
"""Fewer sound shells than these say nothing of what is usual (our choice)."""
FAR = 3.5
SCALE = 1.4826
MOST_SPREADS = 35.0
"""Farther than this is not told apart: where all sound shells are alike anything else lies very far off."""
LEAST_SPREAD = {
    Factor.EARLY_DIPS: 0.5,
    Factor.WETTEST_COAT: 0.03,
    Factor.PRIME_SWING: 0.3,
    Factor.PRIME_TOO_DRY: 3600.0,
    Factor.COATS_SHORT: 0.5,
    Factor.THICKNESS: 0.3e-3,
    Factor.WIRES_SHORT: 0.5,
    Factor.LATE_DIPS: 0.5,
    Factor.TANK_AGE: 86400.0,
    Factor.UNMEASURED: 0.03,
    Factor.WATER_AT_END: 0.002,
    Factor.FINAL_WAIT: 2 * 3600.0,
}
"""No spread counts as smaller than this: differences below it are none to a foundry (our choice)."""
LESS_IS_WORSE = {Factor.THICKNESS, Factor.FINAL_WAIT}


def among_sound(factor: Factor, value: float | None, sound: Sequence[ShellSummary]) -> AmongSound | None:
    """How far on its worse side a number lies; None where it is not known, or of too few sound shells."""
    known = [v for shell in sound if (v := shell.factors.get(factor)) is not None]
    if value is None or len(known) < ENOUGH:
        return None
    middle = float(median(known))
    spread = max(SCALE * float(median(abs(v - middle) for v in known)), LEAST_SPREAD[factor])
    off = (middle - value if factor in LESS_IS_WORSE else value - middle) / spread
    return AmongSound(len(known), middle, min(off, MOST_SPREADS))


def sound_ones(shells: Sequence[ShellSummary], but: int) -> list[ShellSummary]:
    """The sound shells, but for the one that is looked at."""
    return [shell for shell in shells if shell.verdict == "sound" and shell.mould_id != but]
