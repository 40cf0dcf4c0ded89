"""The live parts of pages, each made once for everybody who looks at it in the same language and units."""

from __future__ import annotations

import asyncio
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool

from api.shop_port import ShopPort
from service.errors import NotFound, ShopError

RENEW_S = 30.0
"""So often a state is made anew even if nothing changed: hours move on."""
RETRY_S = 3.0
"""So soon after one that could not be made."""
MOST = 300

Render = Callable[[], str]


@dataclass(frozen=True, slots=True)
class State:
    """number: counts up with each new one. html: None where it could not be read. gone: what it showed is no more."""

    number: int
    html: str | None
    gone: bool = False


class SharedState:
    """One live part in one voice. Used on one event loop."""

    def __init__(self, shop: ShopPort, render: Render) -> None:
        self._shop, self._render = shop, render
        self._state, self._version, self._until = State(0, None), -1, 0.0
        self._making = asyncio.Lock()

    async def newest(self) -> State:
        """The state as of the newest change. Whoever asks first has it made; others wait for that one."""
        async with self._making:
            version = self._shop.changes.version
            if version != self._version or time.monotonic() >= self._until:
                self._state = await self._made()
                lasts = RENEW_S if self._state.html is not None else RETRY_S
                self._version, self._until = version, time.monotonic() + lasts
            return self._state

    async def _made(self) -> State:
        number = self._state.number + 1
        try:
            return State(number, await run_in_threadpool(self._render))
        except NotFound:
            return State(number, None, gone=True)
        except ShopError:
            return State(number, None)


class SharedStates:
    """Those that were looked at last."""

    def __init__(self) -> None:
        self._held: OrderedDict[Hashable, SharedState] = OrderedDict()

    def of(self, key: Hashable, shop: ShopPort, render: Render) -> SharedState:
        held = self._held.setdefault(key, SharedState(shop, render))
        self._held.move_to_end(key)
        if len(self._held) > MOST:
            self._held.popitem(last=False)
        return held
