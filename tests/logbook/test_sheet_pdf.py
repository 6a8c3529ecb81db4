"""The paper diary as people hold it: pages, boxes, paper, tags; the same bytes twice."""

import itertools
import json
import os
import re
import shutil
import subprocess

import pytest

from challenge.errors import ChallengeError
from challenge.logbook.sheet import build_sheet
from challenge.logbook.sheet_pdf import render_sheet_pdf
from challenge.wording import languages, load_words
from tests.logbook.making import PLAN_TEXT, make_plan, make_settings, make_sheet

needs_poppler = pytest.mark.skipif(
    any(shutil.which(tool) is None for tool in ("pdfinfo", "pdftotext", "pdftoppm")),
    reason="poppler's tools are not installed",
)
OUTLOUD = os.environ.get("OUTLOUD") or shutil.which("outloud")
MANY = ("pain", "bloating", "wind", "discomfort", "urgency", "nausea", "tiredness", "heartburn")


def pages(content, folder):
    """The text of each page."""
    file = folder / "diary.pdf"
    file.write_bytes(content)
    text = subprocess.run(
        ["pdftotext", "-layout", str(file), "-"], check=True, capture_output=True, text=True
    ).stdout
    return text.split("\f")[:-1]


@needs_poppler
@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_a_page_a_day_and_one_before_them(language, paper, tmp_path):
    sheet, words = make_sheet(language), load_words(language)
    made = pages(render_sheet_pdf(sheet, words, paper=paper, contact="Room 1"), tmp_path)
    assert len(made) == 1 + len(sheet.days)
    assert "elder" in made[0]
    assert "Room 1" in made[0]
    for day, page in zip(sheet.days, made[1:], strict=True):
        flat = " ".join(page.replace("\u00a0", " ").split())
        assert day.heading.replace("\u00a0", " ") in flat
        assert day.place in flat
        assert day.phase in flat
        assert day.eat.replace("\u00a0", " ") in flat
        for part in day.parts:
            assert words(f"sheet.parts.{part}") in flat
        assert words("sheet.caution").split(":")[0] in flat
        assert words("sheet.foods_heading") in flat


@needs_poppler
def test_where_foods_find_no_room_they_get_a_page_of_the_same_day(tmp_path):
    sheet = make_sheet(symptoms=MANY, ratings_per_challenge_day=6)
    made = pages(render_sheet_pdf(sheet, load_words(), paper="us-letter"), tmp_path)
    dated = [re.search(r"\d+.March.2026", page) for page in made[1:]]
    assert all(dated)
    days = [int(found[0][:1]) for found in dated if found]
    assert sorted(set(days)) == list(range(1, 10))
    assert len(days) > 9
    assert all(page.count("What you ate and drank") <= 1 for page in made)
    assert sum(page.count("What you ate and drank") for page in made) == 9


def rules(content, folder, page, resolution=200):
    """Where horizontal lines cross the middle of the last column's box, in mm from the top."""
    from PIL import Image

    file = folder / "diary.pdf"
    file.write_bytes(content)
    subprocess.run(
        ["pdftoppm", "-r", str(resolution), "-f", str(page), "-l", str(page), "-gray",
         str(file), str(folder / "page")],
        check=True,
    )  # fmt: skip
    with Image.open(next(folder.glob("page*.pgm"))) as picture:
        x = int(picture.width - 25 / 25.4 * resolution)
        dark = [y for y in range(picture.height) if picture.getpixel((x, y)) < 150]
    lines = [y for y in dark if y - 1 not in dark]
    return [25.4 * y / resolution for y in lines]


@needs_poppler
@pytest.mark.parametrize("page", [2, 3])
def test_boxes_are_at_least_8_mm_high(page, tmp_path):
    made = render_sheet_pdf(make_sheet(symptoms=MANY, ratings_per_challenge_day=12), load_words())
    lines = rules(made, tmp_path, page)
    gaps = [round(b - a, 1) for a, b in itertools.pairwise(lines)]
    # time and eight symptoms, two rows of stools, four foods at least
    assert sum(8 <= gap <= 11 for gap in gaps) >= 9 + 2 + (4 if page == 2 else 0)


@needs_poppler
def test_it_prints_in_black_and_grey(tmp_path):
    file = tmp_path / "diary.pdf"
    file.write_bytes(render_sheet_pdf(make_sheet(), load_words()))
    subprocess.run(
        ["pdftoppm", "-r", "40", "-l", "4", str(file), str(tmp_path / "page")], check=True
    )
    from PIL import Image

    for name in tmp_path.glob("page*.ppm"):
        with Image.open(name) as picture:
            colours = picture.convert("RGB").getcolors(1 << 20)
        assert colours is not None
        assert all(max(colour) - min(colour) <= 2 for _, colour in colours)


def test_it_is_tagged_and_the_same_twice():
    made = render_sheet_pdf(make_sheet(), load_words())
    assert made == render_sheet_pdf(make_sheet(), load_words())
    assert b"pdfuaid:part" in made
    assert b"/Marked true" in made


def test_a_food_that_no_font_can_draw_is_refused_with_a_remedy():
    plan = make_plan(PLAN_TEXT.replace("cow's milk", "牛乳"))
    sheet = build_sheet(plan, plan.days, make_settings(), load_words(), client="elder")
    with pytest.raises(ChallengeError, match=r"--format xlsx.*--font-dir") as caught:
        render_sheet_pdf(sheet, load_words())
    assert "牛" in caught.value.message


def test_what_the_plan_says_is_text_never_markup():
    plan = make_plan(
        PLAN_TEXT.replace("cow's milk", '#panic(1) $x$ *b* <a> "" ""'.replace('"', ""))
    )
    sheet = build_sheet(plan, plan.days, make_settings(), load_words(), client="elder")
    assert render_sheet_pdf(sheet, load_words()).startswith(b"%PDF")


@pytest.mark.skipif(OUTLOUD is None, reason="outloud, a checker of PDF/UA-1, is not installed")
@pytest.mark.parametrize("language", languages())
def test_an_independent_checker_finds_nothing_but_that_it_is_to_be_filled_in(language, tmp_path):
    """outloud (Matterhorn Protocol 1.1) warns of tables of empty boxes and of dates on each page.

    Both are meant: it is a form to write on, and each page is a day. The warning at the foot of
    each page is an artifact, as repeated feet are; a reader finds it in full on the first page.
    """
    words = load_words(language)
    file = tmp_path / "diary.pdf"
    file.write_bytes(render_sheet_pdf(make_sheet(language), words))
    done = subprocess.run(
        [str(OUTLOUD), "--json", "-", str(file)], capture_output=True, text=True, check=False
    )
    (checked,) = json.loads(done.stdout)["results"]
    assert checked["error"] is None
    assert checked["stats"]["elements"] > 500
    foot = words("sheet.caution")[:40]
    found = {
        (finding["rule"], finding["severity"])
        for finding in checked["findings"]
        if not (finding["rule"] == "TAG-002" and finding["evidence"].startswith(foot))
    }
    assert found <= {("TBL-012", "warning"), ("TBL-014", "warning"), ("PAG-001", "warning")}
