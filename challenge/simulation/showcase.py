"""The invented client of ``challenge demo``, and foods in the words of an invented practice.

Grams: milk at 4.9 g of lactose per 100 g (Facioni 2020); agave syrup 4 g of net fructose per
teaspoon (Latulippe & Skoog 2011); red onion 5.3 g of short fructans per 100 g (Grzelak). Chickpeas,
mints and mushrooms: figures as from a label or the dietitian's own table; invented here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

from challenge.simulation.clients import SimulatedClient, simulate_client
from challenge.simulation.world import Doses
from challenge.simulation.worlds import USUAL

DEMO_CODE = "bilberry"
_SEED = 2026
_INDEX = 7

FOODS: Mapping[str, Doses] = {
    "fructans": Doses(food="red onion", portions=(15, 30, 60), grams=(0.8, 1.6, 3.2)),
    "fructose": Doses(food="agave syrup", portions=(3.2, 6.3, 12.6), grams=(2, 4, 8)),
    "lactose": Doses(food="cow's milk", portions=(60, 125, 250), grams=(2.9, 6.1, 12.3)),
    "gos": Doses(food="canned chickpeas", portions=(40, 80, 160), grams=(0.4, 0.8, 1.6)),
    "sorbitol": Doses(food="sugar-free mints", portions=(3, 6, 9), grams=(2, 4, 6)),
    "mannitol": Doses(food="button mushrooms", portions=(40, 80, 150), grams=(0.3, 0.6, 1.2)),
}


def demo_client() -> SimulatedClient:
    """Return the same invented client every time: one cycle of six groups, as noisy as life."""
    world = replace(
        USUAL,
        doses={**USUAL.doses, **FOODS},
        start=dt.date(2026, 3, 2),
        start_spread_days=0,
    )
    return simulate_client(world, _SEED, _INDEX, code=DEMO_CODE)
