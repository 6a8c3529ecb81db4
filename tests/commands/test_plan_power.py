"""``challenge plan --power``: what a dietitian reads before starting."""

import json
from datetime import date

import pytest

from challenge.commands.plan_power import designs_of, lines
from challenge.practice.power import power_of
from challenge.protocol.settings import Settings
from challenge.simulation.likeness import Likeness
from tests.commands.folders import contents, run, sample
from tests.practice.test_power import small_plan


def small_folder(tmp_path):
    folder = tmp_path / "fern"
    folder.mkdir()
    rows = ["date,phase,cycle,fodmap_group,step,food,portion_g,fodmap_g"]
    for day in small_plan():
        values = (day.date, day.phase, day.cycle, day.fodmap_group, day.step, day.food,
                  day.portion_g, day.fodmap_g)  # fmt: skip
        rows.append(",".join("" if value is None else str(value) for value in values))
    (folder / "plan.csv").write_text("\n".join(rows) + "\n", "utf-8")
    return folder


def test_a_plan_on_file_is_judged_without_screening_and_nothing_is_written(
    tmp_path, monkeypatch, capsys
):
    folder = small_folder(tmp_path)
    before = contents(folder)
    code, out, err = run(
        monkeypatch, capsys, "plan", folder, "--power", "--clients", "10", "--json"
    )
    assert code == 0, err
    assert contents(folder) == before
    told = json.loads(out)
    assert (told["client"], told["noise"]["from"]) == ("fern", "population")
    days = {design["design"]: design["days"] for design in told["designs"]}
    assert days == {
        "as planned": 12, "one more cycle": 18, "a glucose control": 18,
        "7 more days of baseline": 19, "5 ratings a day": 12,
    }  # fmt: skip
    (best,) = told["designs"][0]["smallest_pvalues"]
    assert best["pvalue"] == 0.25
    assert told["designs"][0]["n_clients"] == 10
    assert told["designs"][1]["n_clients"] == 5
    # without a plan and without a screening there is nothing to judge
    (folder / "plan.csv").unlink()
    code, _, err = run(monkeypatch, capsys, "plan", folder, "--power")
    assert code == 1
    assert "No screening is on record" in err


@pytest.mark.slow
def test_the_clients_own_baseline_is_used(tmp_path, monkeypatch, capsys):
    folder = sample(tmp_path)
    (folder / "client.toml").unlink(missing_ok=True)
    code, out, err = run(
        monkeypatch, capsys, "plan", folder, "--power", "--clients", "10", "--json"
    )
    assert code == 0, err
    noise = json.loads(out)["noise"]
    assert noise["from"] == "diary"
    assert noise["scored_baseline_days"] == 6  # of seven, one has no score
    assert 0.5 < noise["factor"] < 2.0


def test_the_text_fits_the_terminal_and_says_what_no_test_can_show():
    settings = Settings()
    found = [power_of(design, settings, 12) for design in designs_of(small_plan(), settings)[:2]]
    own = Likeness(n_days=5, level=None, noise_log=0.0, noise_log_sd=0.2)
    for likeness in (None, own):
        shown = "\n".join(lines(found, settings, likeness)).splitlines()
        assert max(map(len, shown)) <= 80
        text = " ".join(" ".join(shown).split())
        assert "each group: 3 pairs of days, p 0.25" in text
        assert '"not significant" means "cannot tell"' in text
        assert "a single day, no exact test" in text
    assert "5 scored baseline days; noise 1.0 times the usual, 90 % interval 0.7 to 1.4" in text
    nothing = next(line for line in shown if "none at any step" in line)
    too_high = nothing[2 + 24 + 10 :][:10]
    assert too_high.strip() == "-"  # where every step is tolerated no answer can be too high


def test_a_client_who_rates_more_on_challenge_days_is_compared_with_yet_more_ratings():
    def names(**diary):
        settings = Settings.model_validate({"diary": diary})
        return [design.name for design in designs_of(small_plan(), settings)]

    assert names()[-1] == "5 ratings a day"
    assert names(ratings_per_day=3, ratings_per_challenge_day=6)[-1] == "8 ratings a day"
    assert names(ratings_per_day=12)[-1] == "7 more days of baseline"
    assert small_plan().days[0].date == date(2026, 3, 2)


def test_the_plan_that_would_be_laid_now_is_judged(tmp_path, monkeypatch, capsys):
    (tmp_path / "answers.toml").write_text(
        '[screening]\nasked_by = "AB"\ndiagnosed_by_doctor = true\ncoeliac_test = "negative"\n'
        "coeliac_test_on_gluten = true\nrestriction_helped = true\nrestriction_weeks = 5\n"
        "alarm_features = []\nconditions = []\nallergies = []\n"
        '[protocol]\ngroups = ["lactose"]\ncontrol = true\ncycles = 2\nbaseline_days = 5\n',
        "utf-8",
    )
    folder = tmp_path / "elm"
    answers = ("--from", tmp_path / "answers.toml")
    assert run(monkeypatch, capsys, "new", folder, *answers)[0] == 0
    before = contents(folder)
    ask = ("plan", folder, "--power", "--clients", "10", "--json")
    code, out, err = run(monkeypatch, capsys, *ask)
    assert code == 0, err
    assert contents(folder) == before
    designs = {d["design"]: d for d in json.loads(out)["designs"]}
    # lactose and glucose twice: 5 + 4 x (3 + 3) days; there is a control already
    assert designs["as planned"]["days"] == 29
    assert designs["one more cycle"]["days"] == 41
    assert "a glucose control" not in designs
    lactose, glucose = designs["as planned"]["smallest_pvalues"]
    assert (lactose["n_pairs"], lactose["pvalue"]) == (6, 2 ** (1 - 6))
    assert (glucose["fodmap_group"], glucose["pvalue_adjusted"]) == ("glucose", None)
    # what is told is lactose, once for each of ten clients; the control is not judged
    assert designs["as planned"]["overall"]["n_groups"] == 10
