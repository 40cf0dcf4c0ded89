"""Messages that do not reach somebody: shown on the phone page and the page of messages too, not on the board alone."""

from __future__ import annotations

from service.alerts.sending_troubles import NO_WAY_LEFT, PUSH_FAILED, WAY_OFF
from service.room.views import Board, Trouble


def sending_troubles(board: Board) -> list[Trouble]:
    """Those of the board's troubles that are about sending."""
    return [trouble for trouble in board.troubles if trouble.code in (WAY_OFF, NO_WAY_LEFT, PUSH_FAILED)]
