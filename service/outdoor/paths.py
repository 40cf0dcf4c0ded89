"""Dotted paths into JSON: the names on the way to some numbers. Lists on the way are gone through."""

from __future__ import annotations

from typing import Any


def along(data: Any, path: str) -> list[Any]:
    """Every value at the end of ``"hours.air.temperature"``; None where one of a list has none, so that none slips.

    A number in the path picks one of a list, from 0.
    """
    return _walk(data, path.split("."))


def _walk(data: Any, steps: list[str]) -> list[Any]:
    if isinstance(data, list):
        if steps and steps[0].isdecimal():
            index = int(steps[0])
            return _walk(data[index], steps[1:]) if index < len(data) else [None]
        return [found for each in data for found in _walk(each, steps)]
    if not steps:
        return [data]
    return _walk(data.get(steps[0]), steps[1:]) if isinstance(data, dict) else [None]
