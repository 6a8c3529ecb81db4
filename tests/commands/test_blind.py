"""Blinded challenges from the command line: drawn, sealed, fixed, opened; what tells nothing."""

import csv
import datetime as dt
import json
import random
import shutil
import stat
import subprocess
import tomllib
from pathlib import Path

import pytest

from challenge.files.reading import read_diary, read_plan

from .folders import contents, flat, run

SCREENED = (
    "--by", "AB", "--diagnosed", "--coeliac-test", "negative", "--on-gluten", "--helped",
    "--weeks", "5", "--alarm", "none", "--allergy", "none",
)  # fmt: skip
FIRST = "2026-03-02"
DRAWN = "2026-03-14T09:00"  # the last day but one of the open plan
AFTER = "2026-05-10T09:00"
NAME = "fern"


def secrets_from(monkeypatch, number):
    """Random digits of the draw: two runs with two numbers differ in the order drawn."""
    left = iter([f"{number:064x}", f"{number + 500:064x}"])
    monkeypatch.setattr("secrets.token_hex", lambda _: next(left))


class Client:
    """A client folder, a stick that somebody else keeps, and the program."""

    def __init__(self, monkeypatch, capsys, tmp_path, condition="none"):
        self.shell = (monkeypatch, capsys)
        self.home = tmp_path
        self.folder = tmp_path / "clients" / NAME
        self.stick = tmp_path / "stick"
        for path in (self.folder.parent, self.stick):
            path.mkdir(parents=True)
        assert self("new", self.folder, *SCREENED, "--condition", condition)[0] == 0
        text = (self.folder / "client.toml").read_text()
        (self.folder / "client.toml").write_text(
            text.replace("# Keys of [protocol]", '[protocol]\ngroups = ["lactose"]\n\n# Keys of')
        )
        self.plan_code = self("plan", self.folder, "--start", FIRST)[0]

    def __call__(self, *args, now=DRAWN):
        return run(*self.shell, *args, now=now)

    @property
    def key(self):
        return self.stick / "fern.key"

    def blind(self, *more, group="lactose", **kwargs):
        return self("blind", self.folder, group, "--key-file", self.key, *more, **kwargs)

    def holding(self):
        return tomllib.loads(self.key.read_text())["holding"]

    def live(self, effect=0.0, until="2026-12-31", rng_seed=1, seen=True):
        """Write an invented diary along the plan; ``effect`` is what the group adds."""
        rng = random.Random(rng_seed)
        holding = self.holding() if effect and seen else ()
        foods, scores = [], []
        for day in read_plan(self.folder):
            if day.date > dt.date.fromisoformat(until):
                break
            group = day.fodmap_group or ""
            up = 0.0
            if day.tested:
                foods.append((f"{day.date}T08:00", day.food, day.portion_g, group,
                              day.fodmap_g or ""))  # fmt: skip
                up = effect * (day.sealed and day.food[7] in holding)
            for hour in (10, 14, 20):
                for symptom, base in (("pain", 1.5), ("bloating", 2.0)):
                    score = min(6, max(0, round(base + up + rng.gauss(0, 0.7))))
                    scores.append((f"{day.date}T{hour}:00", symptom, score))
        write(self.folder / "foods.csv", "time,food,portion_g,fodmap_group,fodmap_g", foods)
        write(self.folder / "symptoms.csv", "time,symptom,score", scores)


def write(path, header, rows):
    with path.open("w", newline="") as file:
        file.write(header + "\n")
        csv.writer(file, lineterminator="\n").writerows(rows)


@pytest.fixture
def client(monkeypatch, capsys, tmp_path):
    return Client(monkeypatch, capsys, tmp_path)


@pytest.fixture
def sealed(client):
    code, _, err = client.blind()
    assert code == 0, err
    return client


@pytest.fixture
def lived(sealed):
    sealed.live(effect=2.5)
    return sealed


@pytest.fixture
def frozen(lived):
    code, _, err = lived("freeze", lived.folder, now=AFTER)
    assert code == 0, err
    return lived


# -- drawing -------------------------------------------------------------------------------------


def test_drawing_lays_the_periods_and_puts_the_key_where_it_was_told(sealed):
    days = [day for day in read_plan(sealed.folder) if day.sealed]
    assert [day.food for day in days[:4]] == ["sachet A1", "sachet A2", "sachet A3", "sachet B1"]
    assert len(days) == 8 * 3
    assert len(sealed.holding()) == 4
    held = set(sealed.holding())
    assert all(len(held & set(pair)) == 1 for pair in ("AB", "CD", "EF", "GH"))
    names = {path.name for path in sealed.stick.iterdir()}
    assert names == {"fern.key", "fern-filling-list.pdf"}
    place = sealed.folder / "blinded" / "01-lactose"
    assert {path.name for path in place.iterdir()} == {"trial.toml", "labels.pdf"}
    for path in (*sealed.stick.iterdir(), *place.iterdir()):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    for path in (place, place.parent):
        assert stat.S_IMODE(path.stat().st_mode) == 0o700


def test_the_attainable_p_is_said_before_anybody_eats_anything(client):
    code, out, _ = client.blind("--pairs", 4)
    assert code == 0
    assert "16 orders could have been drawn" in out
    assert "a two-sided p under 0.12" in out
    assert "In one block of 8 there would be 70, and p could reach 0.029" in out


def test_the_same_random_digits_give_the_same_key(monkeypatch, capsys, tmp_path):
    keys = []
    for run_number in (1, 2):
        client = Client(monkeypatch, capsys, tmp_path / str(run_number))
        secrets_from(monkeypatch, 7)
        assert client.blind()[0] == 0
        keys.append(client.key.read_bytes())
    assert keys[0] == keys[1]


def test_nothing_is_told_before_the_opening(monkeypatch, capsys, tmp_path):
    """Two orders, one diary: whatever a person can see or read is the same, byte for byte."""
    seen = []
    for number in (1, 2):
        home = tmp_path / "same"
        shutil.rmtree(home, ignore_errors=True)
        client = Client(monkeypatch, capsys, home)
        secrets_from(monkeypatch, number)
        outputs = [client.blind("--json"), client("plan", client.folder, "--ics")]
        client.live(until="2026-04-20")
        for command in (
            ("today", client.folder, "--why"), ("check", client.folder), ("page", client.folder),
            ("sheet", client.folder), ("plan", client.folder, "--ics"),
            ("analyse", client.folder, "--json"), ("letter", client.folder, "--to", "doctor"),
            ("letter", client.folder, "--to", "client"), ("report", client.folder),
            ("audit", client.folder.parent, "--csv", home / "audit.csv"),
        ):  # fmt: skip
            outputs.append(client(*command, now="2026-04-20T22:00"))
        client.live()
        outputs.append(client("freeze", client.folder, now=AFTER))
        assert all(code == 0 for code, _, _ in outputs), outputs
        files = contents(client.folder) | contents(home / "clients")
        key = client.key.read_text()
        secret = [tomllib.loads(key)[name] for name in ("seed", "salt")]
        secret += ["".join(client.holding()), str(client.holding()), ", ".join(client.holding())]
        digest = tomllib.loads(
            (client.folder / "blinded/01-lactose/trial.toml").read_text()
        )["commitment"]  # fmt: skip
        text = b"\n".join(content for content in files.values() if content is not None)
        text += "".join(out + err for _, out, err in outputs).encode()
        assert not [word for word in secret if word.encode() in text]
        plain = {path: c and c.replace(digest.encode(), b"DIGEST") for path, c in files.items()}
        told = [(code, out.replace(digest, "DIGEST"), err) for code, out, err in outputs]
        seen.append((client.holding(), plain, told, (home / "audit.csv").read_bytes()))
    assert seen[0][0] != seen[1][0]
    assert seen[0][1].keys() == seen[1][1].keys()
    assert [p for p in seen[0][1] if seen[0][1][p] != seen[1][1][p]] == []
    assert seen[0][2:] == seen[1][2:]


def test_the_labels_bear_letters_only_and_the_list_bears_everything(sealed):
    place = sealed.folder / "blinded/01-lactose/labels.pdf"
    labels, filling = (
        subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True).stdout
        for path in (place, sealed.stick / "fern-filling-list.pdf")
    )
    for letter in "ABCDEFGH":
        for step in "123":
            assert labels.split().count(f"{letter}{step}") == 1
            (row,) = [x for x in filling.splitlines() if x.split()[:1] == [f"{letter}{step}"]]
            assert row.split()[1] == ("lactose" if letter in sealed.holding() else "glucose")
    assert labels.count("Holds lactose or glucose, nothing else.") == 24


def test_everything_that_stands_in_the_way_at_once(client, monkeypatch):
    before = contents(client.home)
    code, out, err = client(
        "blind", client.folder, "lactose", "--pairs", 3, "--block", 4,
        "--key-file", client.folder / "fern.key",
    )  # fmt: skip
    assert (code, out) == (1, "")
    assert "6 periods do not fill whole blocks of 4" in err
    assert err.count("would lie in the client's folder") == 2
    assert contents(client.home) == before
    client.key.write_text("another key")
    code, _, err = client.blind()
    assert code == 1 and "it may be another key" in err
    assert client.key.read_text() == "another key"
    code, _, err = client("blind", client.folder, "milk", "--key-file", client.stick / "k")
    assert code == 2 and "is no group" in err


def test_a_blocked_group_stays_blocked(monkeypatch, capsys, tmp_path):
    client = Client(monkeypatch, capsys, tmp_path, condition="hereditary-fructose-intolerance")
    before = contents(client.home)
    for group in ("fructose", "sorbitol"):
        code, _, err = client.blind(group=group)
        assert code == 1
        assert "blocked" in err and "cannot be tested blinded; nothing was written" in err
    assert contents(client.home) == before


def test_no_blinding_without_screening_or_plan(client):
    (client.folder / "client.toml").write_text('[protocol]\ngroups = ["lactose"]\n')
    code, _, err = client.blind()
    assert code == 1 and "No screening is on record" in err
    (client.folder / "plan.csv").unlink()
    code, _, err = client.blind()
    assert code == 1 and "Lay a plan" in err


def test_one_at_a_time(sealed):
    code, _, err = sealed(
        "blind", sealed.folder, "lactose", "--key-file", sealed.stick / "second.key"
    )
    assert code == 1 and "not opened yet" in err
    assert not (sealed.stick / "second.key").exists()


def test_a_draw_whose_days_were_lost_is_laid_and_not_drawn_again(sealed):
    kept = sealed.key.read_bytes()
    laid = (sealed.folder / "plan.csv").read_text()
    (sealed.folder / "plan.csv").write_text(laid[: laid.index("2026-03-15")])
    assert sealed.blind()[0] == 1
    code, _, err = sealed("plan", sealed.folder, now="2026-03-14T10:00")
    assert code == 0, err
    assert (sealed.folder / "plan.csv").read_text() == laid
    assert sealed.key.read_bytes() == kept


def test_a_plan_moved_before_its_start_keeps_the_blinded_periods(client):
    early = "2026-03-01T09:00"
    assert client.blind(now=early)[0] == 0
    before = [day.food for day in read_plan(client.folder) if day.sealed]
    assert client("plan", client.folder, "--start", "2026-03-25", now=early)[0] == 0
    days = [day for day in read_plan(client.folder) if day.sealed]
    assert [day.food for day in days] == before
    assert days[0].date == dt.date(2026, 4, 7)


def test_a_key_beside_the_clients_is_warned_about(client):
    code, _, err = client(
        "blind", client.folder, "lactose", "--key-file", client.folder.parent / "fern.key"
    )
    assert code == 0 and "The key lies in the same place" in err


def test_a_block_found_after_the_draw_takes_the_sachets_off_every_screen(sealed):
    settings = sealed.folder / "client.toml"
    text = settings.read_text().replace("conditions = []", 'conditions = ["galactosaemia"]')
    assert "galactosaemia" in text
    settings.write_text(text.replace('groups = ["lactose"]', 'groups = ["mannitol"]'))
    for command in ("page", "sheet"):
        code, _, err = sealed(command, sealed.folder, now="2026-03-15T07:00")
        assert code == 0 and "left out because of the screening" in err
    page = (sealed.folder / "diary-fern.html").read_text()
    assert "sachet" not in page
    code, out, _ = sealed("today", sealed.folder, "--why", now="2026-03-15T07:00")
    assert code == 0 and "Eat today: all of sachet" not in out
    assert "The blinded challenge is held up" in out


# -- sealed --------------------------------------------------------------------------------------


def test_what_is_said_of_sealed_days(sealed):
    sealed.live(until="2026-03-16")
    code, out, _ = sealed("today", sealed.folder, "--why", now="2026-03-17T07:00")
    assert code == 0
    assert "Eat today: all of sachet A3 (stirred into the drink agreed on)" in out
    assert "dose: sealed, step 3 of 3" in out
    foods = sealed.folder / "foods.csv"
    foods.write_text(foods.read_text().replace("sachet A2", "sachet B2"))
    code, _, err = sealed("check", sealed.folder, now="2026-03-18T07:00")
    assert "wrong-group" in err and "The plan has sachet A2; the diary has sachet B" in flat(err)
    foods.write_text(foods.read_text().replace("sachet B2", "sachet A1"))
    _, _, err = sealed("check", sealed.folder, now="2026-03-18T07:00")
    assert "The plan has sachet A2; the diary has sachet A1." in flat(err)


def test_sealed_days_are_left_out_of_the_open_analysis(lived):
    code, out, _ = lived("analyse", lived.folder, "--json", now=AFTER)
    result = json.loads(out)
    assert code == 0
    assert [group["fodmap_group"] for group in result["groups"]] == ["lactose"]
    assert "A blinded challenge is not opened yet" in result["cautions"][0]
    assert result["blinded"] == []


# -- fixing --------------------------------------------------------------------------------------


def test_an_audit_takes_sealed_and_opened_clients(frozen):
    """Sealed: the open challenge alone. Opened: the blinded days count, the control among them."""
    for opened in (False, True):
        if opened:
            assert frozen("unblind", frozen.folder, "--key", frozen.key, now=AFTER)[0] == 0
        lines = frozen.home / "audit.jsonl"
        code, _, err = frozen("audit", frozen.folder.parent, "--jsonl", lines, now=AFTER)
        assert code == 0, err
        (record,) = [json.loads(line) for line in lines.read_text().splitlines()]
        assert record["problem"] is None
        groups = {group["fodmap_group"]: group for group in record["groups"]}
        assert set(groups) == ({"lactose", "glucose"} if opened else {"lactose"})
        assert groups["lactose"]["doses_eaten"] == (15 if opened else 3)
        assert record["finished"]


def test_nothing_opens_before_the_analysis_is_fixed(lived):
    before = contents(lived.folder)
    code, out, err = lived("unblind", lived.folder, "--key", lived.key, now=AFTER)
    assert (code, out) == (1, "")
    assert "The analysis is not fixed yet" in err
    assert "stays sealed; nothing was changed" in err
    assert contents(lived.folder) == before


def test_sachets_to_come_hold_the_fixing_up_unless_a_reason_is_given(sealed):
    sealed.live(effect=2.0, until="2026-03-31")
    code, _, err = sealed("freeze", sealed.folder, now="2026-04-01T09:00")
    assert code == 1 and "is still to come" in err
    code, out, _ = sealed(
        "freeze", sealed.folder, "--early", "moved away", "--json", now="2026-04-01T09:00"
    )
    assert code == 0
    assert json.loads(out)["ended_early"] == "moved away"
    code, out, _ = sealed("unblind", sealed.folder, "--key", sealed.key, now="2026-04-01T10:00")
    assert code == 0
    plan = read_plan(sealed.folder)
    assert not any(day.sealed for day in plan)
    assert max(day.date for day in plan if "sachet" in day.food) <= dt.date(2026, 4, 1)
    code, out, _ = sealed("report", sealed.folder, now="2026-04-02T10:00")
    assert "It ended early: moved away." in (sealed.folder / "report.html").read_text()


def test_fixing_again_changes_nothing_unless_something_changed(frozen):
    place = frozen.folder / "blinded/01-lactose"
    first = (place / "frozen-01.json").read_bytes()
    assert frozen("freeze", frozen.folder, now="2026-05-11T09:00")[0] == 0
    assert sorted(p.name for p in place.glob("frozen*")) == ["frozen-01.json"]
    scores = frozen.folder / "symptoms.csv"
    was = scores.read_text()
    scores.write_text(was.replace("2026-03-15T10:00,pain,", "2026-03-15T10:00,pain,bad"))
    code, _, err = frozen("freeze", frozen.folder, now="2026-05-11T10:00")
    assert code == 1 and "symptoms.csv, line" in err
    scores.write_text(was.replace("2026-03-15T10:00,pain,", "2026-03-15T10:01,pain,"))
    assert frozen("freeze", frozen.folder, now="2026-05-11T10:00")[0] == 0
    assert sorted(p.name for p in place.glob("frozen*")) == ["frozen-01.json", "frozen-02.json"]
    assert (place / "frozen-01.json").read_bytes() == first


def test_a_diary_or_margin_changed_after_the_fixing_keeps_it_sealed(frozen):
    scores = frozen.folder / "symptoms.csv"
    was = scores.read_text()
    line = next(x for x in was.splitlines() if x.startswith("2026-03-17T10:00,pain"))
    changed = f"{line[:-1]}{(int(line[-1]) + 3) % 7}"
    scores.write_text(was.replace(line, changed))
    code, _, err = frozen("unblind", frozen.folder, "--key", frozen.key, now=AFTER)
    assert code == 1 and "changed since the analysis was fixed: periods" in flat(err)
    scores.write_text(was)
    settings = frozen.folder / "client.toml"
    settings.write_text(settings.read_text() + "\n[analysis]\nmargin = 0.5\n")
    code, _, err = frozen("unblind", frozen.folder, "--key", frozen.key, now=AFTER)
    assert code == 1 and "fixed: margin" in err
    assert not (frozen.folder / "blinded/01-lactose/opened.toml").exists()


# -- opening -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda t: t.replace("seed = \"", "seed = \"0"), "not the one that was drawn"),
        (lambda t: t.replace('client = "fern"', 'client = "ash"'), "for client ash"),
        (lambda t: t.replace("number = 1", 'number = "one"').replace("salt", "pepper"),
         "is no key of a blinded challenge"),
        (lambda t: t[:80], "is no key of a blinded challenge"),
        (lambda t: "=", "is no TOML"),
    ],
)  # fmt: skip
def test_a_changed_key_is_refused(frozen, change, said):
    before = contents(frozen.folder)
    frozen.key.write_text(change(frozen.key.read_text()))
    code, out, err = frozen("unblind", frozen.folder, "--key", frozen.key, now=AFTER)
    assert (code, out) == (1, "")
    assert said in err
    assert contents(frozen.folder) == before


def test_the_result_names_test_orders_and_that_it_was_fixed(frozen):
    before = contents(frozen.folder)
    code, out, err = frozen(
        "unblind", frozen.folder, "--key", frozen.key, "--json", now="2026-05-12T09:00"
    )
    assert code == 0, err
    result = json.loads(out)["blinded"]
    assert result["holding"] == frozen.holding()
    assert result["as_fixed"] is True
    assert result["n_orders"] == 16
    test = result["test"]
    assert "randomisation test" in test["method"]
    assert test["min_pvalue"] == test["pvalue"] == 2 / 16
    assert test["difference"] > 1.5
    now = contents(frozen.folder)
    kept = {path: c for path, c in before.items() if path.name != "plan.csv"}
    assert {path: now[path] for path in kept} == kept  # nothing stored was touched
    foods = read_diary(frozen.folder).foods
    rows = foods[foods["food"].str.startswith("sachet A")]
    assert set(rows["fodmap_group"]) == {"lactose" if "A" in frozen.holding() else "glucose"}
    assert rows["fodmap_g"].tolist() == rows["portion_g"].tolist()
    code, out, _ = frozen("analyse", frozen.folder, now="2026-05-12T09:00")
    text = " ".join(out.split())
    assert "Blinded against glucose (control), 8 periods in an order drawn at random" in text
    assert "was fixed on 10 May 2026, before the order was opened on 12 May 2026" in text
    code, out, _ = frozen("analyse", frozen.folder, "--json", now="2026-05-12T09:00")
    lactose = json.loads(out)["groups"][0]
    (overall,) = [t for t in lactose["tests"] if t["step"] is None and t["symptom"] == "pain"]
    assert "randomisation test" in overall["method"]
    code, _, err = frozen("unblind", frozen.folder, "--key", frozen.key, now="2026-05-12T09:00")
    assert code == 1 and "is sealed" in err


def test_an_opening_that_was_broken_off_is_finished(frozen):
    laid = (frozen.folder / "plan.csv").read_bytes()
    assert frozen("unblind", frozen.folder, "--key", frozen.key, now=AFTER)[0] == 0
    opened = (frozen.folder / "plan.csv").read_bytes()
    record = (frozen.folder / "blinded/01-lactose/opened.toml").read_bytes()
    (frozen.folder / "plan.csv").write_bytes(laid)
    code, _, _ = frozen("unblind", frozen.folder, "--key", frozen.key, now="2026-06-01T09:00")
    assert code == 0
    assert (frozen.folder / "plan.csv").read_bytes() == opened
    assert (frozen.folder / "blinded/01-lactose/opened.toml").read_bytes() == record


def test_a_diary_changed_after_the_opening_is_not_called_fixed(frozen):
    assert frozen("unblind", frozen.folder, "--key", frozen.key, now=AFTER)[0] == 0
    scores = frozen.folder / "symptoms.csv"
    was = scores.read_text()
    # later entries bear on no period
    scores.write_text(was + "2026-05-09T10:00,pain,5\n2026-05-09T14:00,pain,5\n")
    _, out, _ = frozen("analyse", frozen.folder, "--json", now=AFTER)
    assert json.loads(out)["blinded"][0]["as_fixed"] is True
    line = next(x for x in was.splitlines() if x.startswith("2026-03-17T10:00,pain"))
    scores.write_text(was.replace(line, f"{line[:-1]}{(int(line[-1]) + 3) % 7}"))
    _, out, _ = frozen("analyse", frozen.folder, "--json", now=AFTER)
    assert json.loads(out)["blinded"][0]["as_fixed"] is False
    frozen("report", frozen.folder, now=AFTER)
    assert (
        "this is NOT the analysis fixed beforehand" in (frozen.folder / "report.html").read_text()
    )
    scores.write_text(was)
    fixed = frozen.folder / "blinded/01-lactose/frozen-01.json"
    fixed.write_text(
        fixed.read_text().replace('"frozen_at": "2026-05-10', '"frozen_at": "2026-05-09')
    )
    _, out, _ = frozen("analyse", frozen.folder, "--json", now=AFTER)
    assert json.loads(out)["blinded"][0]["as_fixed"] is False


def test_a_second_blinded_challenge_goes_on_with_the_letters(frozen):
    assert frozen("unblind", frozen.folder, "--key", frozen.key, now=AFTER)[0] == 0
    code, _, err = frozen(
        "blind", frozen.folder, "lactose", "--pairs", 2, "--key-file", frozen.stick / "2.key",
        now=AFTER,
    )  # fmt: skip
    assert code == 0, err
    foods = [day.food for day in read_plan(frozen.folder) if day.sealed]
    assert {food[7] for food in foods} == set("JKLM")


@pytest.mark.parametrize("command", ["blind", "freeze", "unblind"])
def test_help_has_an_example(client, command):
    code, out, _ = client(command, "--help")
    assert code == 0 and "Example: challenge" in " ".join(out.split())


def test_no_traceback_when_the_record_is_broken(sealed):
    path = Path(sealed.folder / "blinded/01-lactose/trial.toml")
    path.write_text(path.read_text().replace("block = 2", 'block = "two"'))
    for command in ("freeze", "today", "analyse"):
        code, _, err = sealed(command, sealed.folder, now=AFTER)
        if command == "today":
            continue  # there is no diary yet, so nothing of it is read
        assert code == 1, command
        assert err
