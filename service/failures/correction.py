"""Looking at many factors: what chance would show somewhere is not taken for something.

What is called to stand out is judged by S. Holm, Scand. J. Stat. 6 (1979) 65: it holds however the comparisons hang
together (and they do: "whatever the fault" contains every fault, and factors of one shell are kin).
"""

from __future__ import annotations

from collections.abc import Sequence


def holm(ps: Sequence[float]) -> list[float]:
    """Each p, corrected: at or under a limit means that chance shows anything at all here as seldom as that."""
    order = sorted(range(len(ps)), key=ps.__getitem__)
    found, largest = [0.0] * len(ps), 0.0
    for place, i in enumerate(order):
        largest = max(largest, min((len(ps) - place) * ps[i], 1.0))
        found[i] = largest
    return found


def benjamini_hochberg(ps: Sequence[float]) -> list[float]:
    """Each p, corrected so that of all called at a limit that share is called wrongly (J. R. Stat. Soc. B 57, 289)."""
    order = sorted(range(len(ps)), key=ps.__getitem__, reverse=True)
    found, smallest = [0.0] * len(ps), 1.0
    for place, i in enumerate(order):
        smallest = min(smallest, ps[i] * len(ps) / (len(ps) - place))
        found[i] = smallest
    return found
