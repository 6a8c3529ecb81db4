import datetime as dt
import html
import re
from html.parser import HTMLParser

import numpy as np
import pytest

from challenge.practice.population import population_of
from challenge.practice.records import problem_record
from challenge.practice.report import render
from challenge.practice.summary import summarise
from challenge.practice.suppress import (
    bins_without_small,
    count_text,
    is_small,
    pooled,
    share_text,
    without_small,
)
from challenge.practice.tolerated import GroupShares
from challenge.practice.trust import trust_in
from challenge.statistics.proportions import proportion
from challenge.terms import GROUPS_AND_CONTROL

from .test_operating import calls


def record(client, rng):
    groups = []
    for group in GROUPS_AND_CONTROL:
        outcome = rng.choice(["tolerated", "reacted", "unclear"], p=[0.6, 0.3, 0.1])
        groups.append(
            {
                "fodmap_group": group,
                "control": group == "glucose",
                "suggested_step": {"tolerated": 3, "reacted": 1, "unclear": None}[outcome],
                "outcome": outcome,
                "p_reaction": 0.3,
                "unclear_because": "no step stands out" if outcome == "unclear" else None,
                "doses_planned": 3,
                "doses_eaten": 2,
                "doses_as_planned": 2,
                "stopped": int(outcome == "reacted"),
                "decided": client == 1,
                "decided_step": 2,
                "overridden": client == 1 and group == "gos",
                "steps": [
                    {"fodmap_g": g, "difference": float(rng.normal(g / 6, 0.5))} for g in (3, 6, 12)
                ],
            }
        )
    return {
        "client": f"c{client}",
        "problem": None,
        "completeness": {"all": 0.9},
        "days_planned": 45,
        "days_taken": 42,
        "finished": client != 2,
        "cycles": 1,
        "groups": groups,
    }


@pytest.fixture(scope="module")
def summary():
    rng = np.random.default_rng(8)
    records = [record(client, rng) for client in range(30)]
    records.append(problem_record("c99", "foods.csv, line 2: no date"))
    records.append(problem_record("c98", "foods.csv, line 9: no date"))
    return summarise(population_of(records))


def page(summary, **options):
    return render(summary, dt.date(2026, 11, 25), "0.1", **options)


def plain(source):
    text = re.sub(r"<svg.*?</svg>|<style.*?</style>", "", source, flags=re.DOTALL)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text)))


def test_numbers_of_the_summary(summary):
    assert (summary.n_clients, summary.n_problems) == (32, 2)
    assert summary.problems == (("foods.csv: no date", 2),)
    assert summary.doses_eaten.count == 2 * 7 * 30
    assert summary.doses_as_planned.estimate == 1.0
    assert summary.decided.count == 7
    assert summary.overridden.count == 1
    assert summary.control.n <= 30
    assert summary.days_taken.middle == 42
    assert sum(count for _, count in summary.unclear_because) == summary.unclear.count


def test_page_stands_alone_is_well_formed_and_names_its_sources(summary):
    source = page(summary)
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", source.split("<body>")[1])

    class Balance(HTMLParser):
        def __init__(self):
            super().__init__()
            self.open = []

        def handle_starttag(self, tag, attrs):
            if tag not in {"meta", "path", "use", "line"}:
                self.open.append(tag)

        def handle_endtag(self, tag):
            if tag not in {"meta", "path", "use", "line"}:
                assert self.open.pop() == tag

    parser = Balance()
    parser.feed(source)
    assert parser.open == []
    text = plain(source)
    for words in ("Van den Houte 2024", "doi 10.1053/j.gastro.2024.02.008", "Cochran's Q", "Holm"):
        assert words in text
    assert "not" in text and "a diagnosis" in text
    assert " safe" not in text.casefold()
    assert "c99" not in source


def test_no_client_code_and_no_small_number_when_they_are_to_be_hidden(summary):
    open_text, hidden = plain(page(summary)), plain(page(summary, least=5))
    assert " hidden " in hidden
    assert "hidden" not in open_text
    # the override of one client: 1 of 7 decisions
    assert "1 of 7" in open_text
    assert "1 of 7" not in hidden
    assert "other < 5" in hidden
    # 29 of 30 finished
    assert "29 of 30" in open_text
    assert "29 of 30" not in hidden
    # p of an exact test of few clients tells how many they are
    few = [
        row
        for row in re.findall(r"<tr>(?:(?!</tr>).)*</tr>", page(summary, least=5))
        if "&lt; 5</td>" in row and "hidden</td>" in row
    ]
    assert few


@pytest.mark.parametrize(("count", "shown"), [(0, "0"), (1, "< 5"), (4, "< 5"), (5, "5")])
def test_counts_below_the_least_are_hidden(count, shown):
    assert count_text(count, 5) == shown


def test_a_share_is_hidden_when_either_side_is_small():
    assert "hidden" in share_text(proportion(2, 40), 5)
    assert "hidden" in share_text(proportion(38, 40), 5)
    assert "hidden" not in share_text(proportion(20, 40), 5)
    assert "hidden" not in share_text(proportion(40, 40), 5)


def test_figures_leave_hidden_shares_out(summary):
    shown = without_small(summary.groups, 31)
    assert all(s.estimate is None or s.count == s.n for g in shown for s in g.tolerated)
    assert all(g.unclear.estimate is None or g.unclear.count in {0, g.unclear.n} for g in shown)


def test_no_small_difference_between_steps_that_are_shown():
    def counted(count):
        return proportion(count, 40)

    group = GroupShares(
        fodmap_group="lactose",
        n=48,
        n_unclear=8,
        tolerated=(counted(30), counted(28), counted(20)),
        reacted=counted(17),
        unclear=proportion(8, 48),
    )
    (shown,) = without_small([group], 5)
    # 30 - 28 = 2 clients have their limit at step 1; 40 - 17 - 20 = 3 ate no third step
    assert [share.estimate is None for share in shown.tolerated] == [False, True, True]
    assert shown.reacted == group.reacted
    (everything,) = without_small([group], 1)
    assert everything == group


def test_small_counts_are_pooled_so_that_the_total_does_not_tell_them():
    assert pooled([("a", 9), ("b", 7), ("c", 3)], 5) == (("a", 9), ("other", 10))
    assert pooled([("a", 9), ("b", 3), ("c", 2)], 5) == (("a", 9), ("other", 5))
    assert pooled([("a", 2), ("b", 1)], 5) == (("other", 3),)
    assert pooled([("a", 2), ("b", 1)], 1) == (("a", 2), ("b", 1))
    rng = np.random.default_rng(6)
    for _ in range(200):
        counts = [(str(k), int(n)) for k, n in enumerate(rng.integers(1, 12, rng.integers(1, 8)))]
        found = pooled(counts, 5)
        assert sum(n for _, n in found) == sum(n for _, n in counts)
        assert len(found) == 1 or not any(is_small(n, 5) for _, n in found)


def test_a_histogram_is_widened_until_no_bar_is_small():
    values = [0.91, 0.93, 0.94, 0.97, 0.99]
    assert bins_without_small(values, 1) == 20
    assert bins_without_small(values, 5) == 10
    assert bins_without_small([0.1, *values], 5) == 1
    assert bins_without_small(values[:3], 5) == 0


def test_against_the_truth_adds_a_section(summary):
    rng = np.random.default_rng(1)
    truth = rng.integers(0, 4, 200)
    found = trust_in(calls(truth, truth))
    assert "Against the truth" in page(summary, trust=found)
    assert "Against the truth" not in page(summary)


def test_a_practice_without_any_result_still_has_a_page():
    source = page(summarise(population_of([problem_record("a", "no plan.csv")])))
    assert "Too few clients" in source
    assert "no plan.csv" in source


def test_same_numbers_same_page(summary):
    assert page(summary) == page(summary)
