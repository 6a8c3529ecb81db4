"""How often the default stop rule ends the challenge of a group that a client tolerates."""

from dataclasses import replace

import numpy as np
import pytest

from challenge.protocol.progress import progress
from challenge.protocol.record import record_of
from challenge.protocol.settings import Settings
from challenge.protocol.stopping import FALSE_STOPS
from challenge.simulation.clients import simulate_clients
from challenge.simulation.worlds import USUAL


@pytest.mark.slow
def test_the_share_of_false_stops_is_the_one_that_today_tells():
    obedient = replace(USUAL, stop_chance=0.0, missed_dose=0.0)
    shares = []
    for client in simulate_clients(obedient, 77, 150):
        end = client.plan.days[-1].date
        courses = progress(client.plan, record_of(client.diary), Settings(), end).courses
        early = []
        for told in client.truth:
            if told.tolerated_step < len(told.rises):
                continue
            stop = courses[told.fodmap_group, 1].stop
            last = max(
                d.date for d in client.plan if d.step and d.fodmap_group == told.fodmap_group
            )
            early.append(stop is not None and stop.date < last)
        shares.append((sum(early), len(early)))
    stopped, challenges = np.array(shares).sum(axis=0)
    # clients vary more than challenges: 150 of them give a standard error of about 1.8 points
    assert stopped / challenges == pytest.approx(FALSE_STOPS, abs=3 * 0.018)
