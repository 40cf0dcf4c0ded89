"""Moulds as JSON, and the whole board."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import AwareDatetime, Field

from api.air_models import ROOM_NOW, RoomNowOut, room_out
from api.models import EXAMPLE_TIME, In, Length, Out, PocketLength, Told, WaxMass, Words, example
from api.result_models import CameOut, FailingOut
from api.site_models import ROOM, SITE, RoomOut, SiteOut
from service import words
from service.records.facts import MouldBody, Zone, ZoneKind, must_differ
from service.records.plain import Name, OneLine, when_told
from service.records.recipes import CoatKind, Recipe
from service.records.shop_facts import Site
from service.room.views import Board, MouldNow, Stage

LAYER = {"coat": 1, "kind": "prime", "thickness_m": 0.0006, "saturation": 0.31, "wires": False}
ZONE = {
    "name": "hollow base",
    "kind": "pocket",
    "newest_saturation": 0.34,
    "coat_saturations": [0.31, 0.32, 0.34],
    "water_kg_m2": 0.21,
    "water_share": 0.05,
    "surface_temperature_k": 292.4,
    "surface_recovery": 0.4,
    "ready_at": EXAMPLE_TIME,
    "dry_at": None,
    "slowest": True,
}
NEVER = {"air_humidity": 0.78, "needs_below": 0.63, "would_do_humidity": 0.53, "would_do_s": 18000.0}
SAYS = {
    "headline": "Heron: coat 4 of 9, backup, from the grey tank, ready since 14:05",
    "what_now": "Dip coat 4 of 9, backup, grey tank",
    "notices": ["Dip before 18:10, the longest wait for this coat"],
}
MOULD = {
    "id": 3,
    "name": "Heron",
    "piece": "Standing heron",
    "customer": "harbour garden",
    "hook": "3",
    "room": ROOM,
    "wanted_by": None,
    "recipe": "wading-bird",
    "stage": "ready",
    "started_at": EXAMPLE_TIME,
    "ended_at": None,
    "outcome": None,
    "coats_given": 3,
    "coats_total": 9,
    "last_dip_at": EXAMPLE_TIME,
    "last_dip_number": 41,
    "next_coat": 4,
    "next_kind": "backup",
    "next_tank": "grey",
    "wires_due": False,
    "due_at": EXAMPLE_TIME,
    "about_at": "2025-12-11T14:00:00Z",
    "sureness_usual": False,
    "due_early_at": "2025-12-11T13:30:00Z",
    "due_late_at": "2025-12-11T15:10:00Z",
    "least_wait_until": EXAMPLE_TIME,
    "longest_wait_until": EXAMPLE_TIME,
    "never": None,
    "held_by": None,
    "hand_check": None,
    "guessing_since": None,
    "unmeasured_s": 0.0,
    "from_notebook": False,
    "unworkable": False,
    "verdict": None,
    "failings": [],
    "result_number": None,
    "result_at": None,
    "layers": [LAYER],
    "zones": [ZONE],
    "says": SAYS,
}
HAND = {
    "mould_id": 3,
    "title": "Heron: dip coat 4 of 9",
    "name": "bench 1",
    "said": "on my way",
    "at": EXAMPLE_TIME,
    "until": EXAMPLE_TIME,
}
ZONE_IN = {"name": "outside", "kind": "open face", "height": "38 cm", "width": "20 cm"}
POCKET_IN = {
    "name": "hollow base",
    "kind": "pocket",
    "height": "20 cm",
    "width": "10 cm",
    "depth": "8 cm",
    "mouth": "3 cm",
}


class LayerOut(Out):
    """One coat of the picture, innermost first. `saturation` null: still to come."""

    model_config = example(LAYER)
    coat: int
    kind: CoatKind
    thickness_m: float
    saturation: float | None
    wires: bool


class ZoneOut(Out):
    """A place that dries on its own clock."""

    model_config = example(ZONE)
    name: str
    kind: ZoneKind
    newest_saturation: float | None
    coat_saturations: list[float]
    water_kg_m2: float
    water_share: float = Field(description="kg water a kg dry shell")
    surface_temperature_k: float
    surface_recovery: float
    ready_at: datetime | None
    dry_at: datetime | None
    slowest: bool


class NeverOut(Out):
    """Why the limit is never reached in this air, and what air would do."""

    model_config = example(NEVER)
    air_humidity: float
    needs_below: float
    would_do_humidity: float
    would_do_s: float


class SaysOut(Out):
    """The sentences the pages show, on the shop's clock and in its units."""

    model_config = example(SAYS)
    headline: str
    what_now: str
    notices: list[str]


class MouldOut(Out):
    """A mould as it stands, and what comes next. `due_at` null: cannot be told; past: it can be done now."""

    model_config = example(MOULD)
    id: int
    name: str
    piece: str
    customer: str
    hook: str
    room: RoomOut
    wanted_by: datetime | None
    recipe: str
    stage: Stage
    started_at: datetime
    ended_at: datetime | None
    outcome: str | None
    coats_given: int
    coats_total: int
    last_dip_at: datetime | None
    last_dip_number: int | None
    next_coat: int | None
    next_kind: CoatKind | None
    next_tank: str | None
    wires_due: bool
    due_at: datetime | None = Field(
        description="due by then as surely as the shop wants its bell (`sure` in alerts.toml, 80 %); null: unknown"
    )
    about_at: datetime | None = Field(description="as likely due before as after (50 %); null: not known")
    due_early_at: datetime | None = Field(
        description="between this and `due_late_at` it is due with 80 % (10 and 90 %); null: not known, or due already"
    )
    due_late_at: datetime | None = Field(
        description="null, though `due_early_at` is known: it may take longer than the air is forecast"
    )
    sureness_usual: bool = Field(
        description="its own doubt is not worked out yet, just after a dip or a start: `due_at` is late enough for any"
    )
    least_wait_until: datetime | None
    longest_wait_until: datetime | None
    never: NeverOut | None
    held_by: str | None
    hand_check: str | None
    guessing_since: datetime | None
    unmeasured_s: float = Field(
        description="how much of this wait had no measured air, where more than half an hour was reckoned without"
    )
    from_notebook: bool = Field(
        description="copied from an older notebook: nothing is measured or worked out"
    )
    unworkable: bool = Field(description="its numbers cannot be worked with, so that it has no estimate")
    verdict: CameOut | None = Field(description="how it came out, once that was told of one that left")
    failings: list[FailingOut]
    result_number: int | None = Field(description="the record that says so")
    result_at: datetime | None
    layers: list[LayerOut]
    zones: list[ZoneOut]
    says: SaysOut


class TroubleOut(Out):
    """Something about coatbell itself that a person should see."""

    model_config = example(
        {"code": "broker_down", "words": "The broker cannot be reached.", "since": EXAMPLE_TIME}
    )
    code: str
    words: Words
    since: datetime | None


class HandOut(Out):
    """What somebody said to a message that wants a hand. `until`: for how long it holds."""

    model_config = example(HAND)
    mould_id: int
    title: str
    name: str
    said: str = Field(description="on my way, or later")
    at: datetime
    until: datetime | None


class SessionOut(Out):
    """Moulds that are dipped one after the other from one tank, in this order."""

    model_config = example({"tank": "grey", "mould_ids": [12, 7]})
    tank: str | None
    mould_ids: list[int]


class BoardOut(Out):
    """Everything the wall-board shows, moulds due first. `version` counts up with every change."""

    model_config = example(
        {
            "at": EXAMPLE_TIME,
            "site": SITE,
            "demo": False,
            "speed": 1.0,
            "rooms": [ROOM_NOW],
            "moulds": [MOULD],
            "troubles": [],
            "version": 812,
            "hands": [HAND],
            "sessions": [{"tank": "grey", "mould_ids": [12, 7]}],
        }
    )
    at: datetime
    site: SiteOut | None
    demo: bool
    speed: float
    rooms: list[RoomNowOut]
    moulds: list[MouldOut]
    troubles: list[TroubleOut]
    version: int
    hands: list[HandOut]
    sessions: list[SessionOut] = Field(
        description="what is due at the tanks; if nothing is, what comes first"
    )


class ZoneIn(In):
    """A place that dries on its own clock. `depth` and `mouth` for a pocket only; `slot`: not a round hole."""

    model_config = example(POCKET_IN)
    name: Name = Field(min_length=1, max_length=60)
    kind: ZoneKind
    height: Length
    width: Length
    depth: PocketLength | None = None
    mouth: PocketLength | None = None
    slot: bool = False

    def zone(self) -> Zone:
        return Zone(
            name=self.name,
            kind=self.kind,
            height_m=self.height,
            width_m=self.width,
            depth_m=self.depth,
            mouth_m=self.mouth,
            slot=self.slot,
        )


class MouldChangeIn(Told):
    """What is known of a mould. All of it is given; what is left out is taken as not known.

    `at`: since when it hangs in that room, where it was moved before now or that move was written down wrong.
    """

    model_config = example(
        {"name": "Heron", "room_id": 1, "hook": "4", "zones": [ZONE_IN, POCKET_IN], "hand": "bench 1"}
    )
    name: Name = Field(min_length=1, max_length=60)
    piece: OneLine = Field(default="", max_length=200)
    customer: OneLine = Field(default="", max_length=200)
    height: Length | None = None
    width: Length | None = None
    wax_mass: WaxMass | None = None
    hook: OneLine = Field(default="", max_length=60)
    room_id: int
    wanted_by: AwareDatetime | None = None
    zones: Annotated[list[ZoneIn], Field(min_length=1, max_length=12), when_told(must_differ)]

    def body(self, recipe: Recipe) -> MouldBody:
        return MouldBody(
            name=self.name,
            piece=self.piece,
            customer=self.customer,
            height_m=self.height,
            width_m=self.width,
            wax_mass_kg=self.wax_mass,
            hook=self.hook,
            room_id=self.room_id,
            wanted_by=self.wanted_by,
            zones=tuple(zone.zone() for zone in self.zones),
            recipe=recipe,
        )


class MouldIn(MouldChangeIn):
    """A wax hung up. The recipe is copied, so that it stays as it is now."""

    model_config = example(
        {
            "name": "Heron",
            "piece": "Standing heron",
            "room_id": 1,
            "hook": "3",
            "wax_mass": "1.9 kg",
            "recipe": "wading-bird",
            "zones": [ZONE_IN, POCKET_IN],
            "hand": "bench 1",
        }
    )
    recipe: str


def mould_out(mould: MouldNow, site: Site | None, now: datetime) -> MouldOut:
    says = SaysOut(
        headline=words.headline(mould, site, now),
        what_now=words.what_now(mould, site, now),
        notices=words.notices(mould, site, now),
    )
    plain = {name: getattr(mould, name) for name in MouldOut.model_fields if name not in ("recipe", "says")}
    return MouldOut.model_validate({**plain, "recipe": mould.recipe.name, "says": says})


def board_out(board: Board) -> BoardOut:
    return BoardOut(
        at=board.at,
        site=SiteOut.model_validate(board.site) if board.site else None,
        demo=board.demo,
        speed=board.speed,
        rooms=[room_out(room) for room in board.rooms],
        moulds=[mould_out(mould, board.site, board.at) for mould in board.moulds],
        troubles=[TroubleOut.model_validate(trouble) for trouble in board.troubles],
        version=board.version,
        hands=[HandOut.model_validate(hand) for hand in board.hands],
        sessions=[SessionOut.model_validate(session) for session in board.sessions],
    )
