"""The moulds of Saltmarsh Bronze: what has left, what hangs there when the demo begins, and what comes after."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace
from itertools import count

from service.demo.plan import LEAN_TO, Plan, face, hole, panel

BIRD, HOLLOW, PANEL = "wading-bird", "bell-or-head", "gate-panel"

GONE = (
    Plan(
        name="Godwit",
        piece="Godwit, asleep on one leg",
        customer="Estuary walk",
        recipe=BIRD,
        hook="1",
        height_m=0.22,
        width_m=0.14,
        wax_mass_kg=0.7,
        zones=(face("body", 0.2, 0.12), face("legs and base", 0.12, 0.03)),
        days_ago=8,
        dry=(3, 6),
        weighed=(5, 9),
        notes={2: "Stucco sat well, no runs."},
    ),
    Plan(
        name="Egret",
        piece="Egret, wings half open",
        customer="Harbour office",
        recipe=BIRD,
        hook="2",
        height_m=0.48,
        width_m=0.36,
        wax_mass_kg=2.1,
        zones=(face("body and neck", 0.45, 0.14), panel("wing", 0.3, 0.2)),
        days_ago=8,
        hour=7.5,
        early={5: (0.55, "Tank had to be emptied for cleaning")},
        notes={7: "Coat 5 was still soft along the back."},
        fails="Split along the back in the dewax. Coat 5 came away damp under coat 6.",
    ),
)

HANGING = (
    Plan(
        name="Avocet",
        piece="Avocet, feeding",
        customer="Estuary walk",
        recipe=BIRD,
        hook="3",
        height_m=0.3,
        width_m=0.18,
        wax_mass_kg=0.9,
        zones=(face("body", 0.26, 0.14), face("legs and bill", 0.18, 0.03)),
        days_ago=2,
        wanted_in_days=3,
        dry=(4,),
    ),
    Plan(
        name="Heron",
        piece="Heron, standing, neck drawn in",
        customer="Town garden",
        recipe=BIRD,
        hook="4",
        height_m=0.85,
        width_m=0.3,
        wax_mass_kg=3.8,
        zones=(
            face("body and neck", 0.6, 0.24),
            face("legs", 0.35, 0.04),
            hole("slot under the wing", 0.06, 0.033, 0.2, 0.1, slot=True),
        ),
        days_ago=4,
        hour=7.75,
        wanted_in_days=5,
        damp={5: 0.6},
        weighed=(4,),
    ),
    Plan(
        name="Curlew",
        piece="Curlew on its post",
        customer="Estuary walk",
        recipe=BIRD,
        hook="5",
        height_m=0.34,
        width_m=0.16,
        wax_mass_kg=1.1,
        zones=(face("body", 0.24, 0.14), face("bill and post", 0.3, 0.04)),
        days_ago=1,
        hour=8.0,
        wanted_in_days=6,
    ),
    Plan(
        name="Oystercatcher",
        piece="Oystercatcher, calling",
        customer="Boat club",
        recipe=BIRD,
        hook="6",
        height_m=0.26,
        width_m=0.18,
        wax_mass_kg=0.8,
        zones=(face("body", 0.22, 0.15), face("legs", 0.1, 0.03)),
        days_ago=1,
        hour=8.5,
        wanted_in_days=8,
        slips={2: "grey"},
    ),
    Plan(
        name="Redshank",
        piece="Redshank, pair on a stone",
        customer="Boat club",
        recipe=BIRD,
        hook="7",
        height_m=0.2,
        width_m=0.2,
        wax_mass_kg=0.9,
        zones=(face("birds", 0.18, 0.12), face("stone", 0.08, 0.2)),
        days_ago=0,
        hour=7.0,
        wanted_in_days=9,
    ),
    Plan(
        name="Turnstone",
        piece="Turnstone on weed",
        customer="Estuary walk",
        recipe=BIRD,
        hook="8",
        height_m=0.16,
        width_m=0.2,
        wax_mass_kg=0.6,
        zones=(face("body", 0.14, 0.14), face("weed", 0.06, 0.2)),
        days_ago=0,
        hour=9.0,
        wanted_in_days=12,
    ),
    Plan(
        name="Ship's bell",
        piece="Ship's bell, 300 mm, with reed border",
        customer="Boat club",
        recipe=HOLLOW,
        hook="9",
        height_m=0.32,
        width_m=0.3,
        wax_mass_kg=4.4,
        zones=(face("outside", 0.32, 0.3), hole("inside of the bell", 0.26, 0.24, 0.28, 0.24)),
        days_ago=2,
        wanted_in_days=7,
    ),
    Plan(
        name="Portrait head",
        piece="Portrait head, life size",
        customer="Village hall",
        recipe=HOLLOW,
        hook="10",
        height_m=0.36,
        width_m=0.24,
        wax_mass_kg=4.9,
        zones=(
            face("face and hair", 0.36, 0.24),
            hole("core", 0.2, 0.13, 0.25, 0.16),
            hole("under the chin", 0.05, 0.04, 0.08, 0.06, slot=True),
        ),
        days_ago=6,
        wanted_in_days=4,
        notes={1: "Two bubbles behind the left ear, filled by hand."},
        weighed=(6,),
    ),
    Plan(
        name="Gate of reeds, left",
        piece="Gate panel of reeds, left leaf",
        customer="Town garden",
        recipe=PANEL,
        hook="11",
        height_m=0.6,
        width_m=0.42,
        wax_mass_kg=5.2,
        zones=(panel("panel", 0.6, 0.42), face("reed heads", 0.2, 0.05)),
        days_ago=1,
        wanted_in_days=7,
    ),
    Plan(
        name="Gate of reeds, right",
        piece="Gate panel of reeds, right leaf",
        customer="Town garden",
        recipe=PANEL,
        hook="12",
        height_m=0.6,
        width_m=0.42,
        wax_mass_kg=5.3,
        zones=(panel("panel", 0.6, 0.42), face("reed heads", 0.2, 0.05)),
        days_ago=3,
        hour=7.5,
        wanted_in_days=7,
    ),
    Plan(
        name="Lapwing",
        piece="Lapwing, crest up",
        customer="Estuary walk",
        recipe=BIRD,
        hook="13",
        height_m=0.28,
        width_m=0.2,
        wax_mass_kg=0.9,
        zones=(face("body", 0.24, 0.16), face("legs and crest", 0.1, 0.02)),
        days_ago=1,
        hour=11.0,
        wanted_in_days=1,
    ),
    Plan(
        name="Mooring post cap",
        piece="Cap for a mooring post, with a crab",
        customer="Harbour office",
        recipe=BIRD,
        hook="L1",
        height_m=0.2,
        width_m=0.26,
        wax_mass_kg=1.6,
        zones=(face("top", 0.12, 0.26), face("skirt", 0.18, 0.26)),
        room=LEAN_TO,
        days_ago=5,
        wanted_in_days=10,
    ),
)

MOULDS = GONE + HANGING

COMING = (
    "Dunlin",
    "Knot",
    "Whimbrel",
    "Sanderling",
    "Shelduck",
    "Plover",
    "Snipe",
    "Little tern",
    "Bittern",
    "Crake",
)


def next_wax(taken: Collection[str]) -> Plan:
    """The next wax to hang up: a bird not used yet; when all were, they come again with a number."""
    model = next(plan for plan in HANGING if plan.name == "Oystercatcher")
    name = next(name for name in _names() if name not in taken)
    return replace(
        model, name=name, piece=f"{name}, from the estuary set", hook="", slips={}, wanted_in_days=14
    )


def _names() -> Iterator[str]:
    for number in count(1):
        yield from (name if number == 1 else f"{name} {number}" for name in COMING)
