"""Several things in one sentence."""

from __future__ import annotations

from collections.abc import Sequence

from service.voice import say


def listed(names: Sequence[str]) -> str:
    """``Heron``, ``Heron and Curlew``, ``Heron, Curlew and Avocet``."""
    if len(names) < 2:
        return "".join(names)
    return say("{names} and {last}", names=", ".join(names[:-1]), last=names[-1])


def any_of(names: Sequence[str]) -> str:
    """``Europe/Rome or Europe/Malta``."""
    if len(names) < 2:
        return "".join(names)
    return say("{names} or {last}", names=", ".join(names[:-1]), last=names[-1])


def capital(text: str) -> str:
    """A sentence from a phrase: ``Coat 3`` from ``coat 3``."""
    return text[:1].upper() + text[1:]
