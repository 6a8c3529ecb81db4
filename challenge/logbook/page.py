"""The client's diary as one HTML file: their plan, their symptoms, no network and no framework."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import html
import json
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any, Final

from challenge.diary.day import NIGHT_ENDS_H, PARTS_START_H
from challenge.foods import find_food
from challenge.logbook.kinds import EVENTS, STOOL_FORMS
from challenge.logbook.sheet import dose_before
from challenge.protocol.plan import Plan, PlanDay

STORAGE_SCHEMA: Final = 1
"""Form of the entries that the page keeps; raised when an older page could not read them."""

_SCRIPTS: Final = ("time.js", "store.js", "csv.js", "rows.js", "view.js", "forms.js", "main.js")


@dataclass(frozen=True, kw_only=True)
class PageSettings:
    """What the page needs to know beside the plan.

    Attributes
    ----------
    client
        Client code; never a name.
    symptoms
        0-10 symptoms scored.
    ratings, challenge_ratings
        Ratings a day, on ordinary and on challenge days.
    eat_at
        When the dose is eaten, in the client's words.
    made
        When the page is made (local wall clock); a page knows by it that a newer one was used.
    held
        Which challenge foods must not be eaten now; such days show none.
    stop
        When to eat no more of a challenge food, in the client's words; shown on its days.
    only
        On what condition the food of a challenge day is eaten, in the client's words.
    days_per_step
        Days at each dose.
    """

    client: str
    symptoms: Sequence[str]
    ratings: int
    challenge_ratings: int
    eat_at: str
    made: dt.datetime
    held: Callable[[PlanDay], bool] = lambda day: False
    stop: str = ""
    only: Callable[[PlanDay], str] = lambda day: ""
    days_per_step: int = 1


def build_page(plan: Plan, settings: PageSettings, *, hosted: bool = False) -> str:
    """Return the page as the text of one HTML file.

    Its content-security policy allows the one script and the one style sheet in it, by their
    hashes, and no connection to anywhere.

    Parameters
    ----------
    plan
        The client's plan.
    settings
        The rest.
    hosted
        For a web address of the practice: the page then names its manifest and service worker.
    """
    style = _part("page.css")
    script = _script()
    data = _json_in_html(_data(plan, settings, hosted=hosted))
    link = '\n<link rel="manifest" href="manifest.webmanifest">\n<link rel="icon" href="icon.svg">'
    return _filled(
        _part("page.html"),
        POLICY=_policy(script, style, hosted=hosted),
        CLIENT=html.escape(settings.client),
        HOSTED=link if hosted else '\n<link rel="icon" href="data:,">',
        STYLE=style,
        HELP=_part("help.html").strip(),
        PLACE=_part("place.html").strip(),
        MADE=settings.made.date().isoformat(),
        VERSION=str(STORAGE_SCHEMA),
        DATA=data,
        SCRIPT=script,
    )


def build_hosted_files(plan: Plan, settings: PageSettings) -> dict[str, str]:
    """Return the files that a practice puts on its https host, name to text.

    With the manifest and the service worker the page can be put on the home screen and opens
    without a network. The service worker keeps the page, never an entry.
    """
    page = build_page(plan, settings, hosted=True)
    client = html.escape(settings.client)
    manifest = {
        "name": f"Diary {settings.client}",
        "short_name": "Diary",
        "start_url": "./index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#f6f5f8",
        "theme_color": "#43418f",
        "icons": [{"src": "icon.svg", "sizes": "any", "type": "image/svg+xml"}],
    }
    key = hashlib.sha256(page.encode()).hexdigest()[:16]
    return {
        "index.html": page,
        "manifest.webmanifest": json.dumps(manifest, indent=2) + "\n",
        "service-worker.js": _filled(_part("service-worker.js"), KEY=key, CLIENT=client),
        "icon.svg": _part("icon.svg"),
    }


def _data(plan: Plan, settings: PageSettings, *, hosted: bool) -> dict[str, Any]:
    return {
        "schema": STORAGE_SCHEMA,
        "client": settings.client,
        "made": settings.made.isoformat(timespec="minutes"),
        "hosted": hosted,
        "symptoms": list(settings.symptoms),
        "ratings": {"usual": settings.ratings, "challenge": settings.challenge_ratings},
        "eat_at": settings.eat_at,
        "stop": settings.stop,
        "night_ends_h": NIGHT_ENDS_H,
        "parts_start_h": list(PARTS_START_H),
        "stool_forms": list(STOOL_FORMS),
        "events": list(EVENTS),
        "foods": _foods(day for day in plan if not _is_held(day, settings)),
        "plan": [_day(day, plan, settings) for day in plan],
    }


def _is_held(day: PlanDay, settings: PageSettings) -> bool:
    """Days that have passed stay as they were: their food may still have to be corrected."""
    return day.phase == "challenge" and day.date >= settings.made.date() and settings.held(day)


def _day(day: PlanDay, plan: Plan, settings: PageSettings) -> dict[str, Any]:
    shown: dict[str, Any] = {"date": day.date.isoformat(), "phase": day.phase}
    if _is_held(day, settings):
        shown["held"] = True
    elif day.phase == "challenge":
        before = dose_before(day, plan, settings.days_per_step)
        shown |= {
            "fodmap_group": day.fodmap_group,
            "step": day.step,
            "food": day.food,
            "portion_g": None if day.sealed else day.portion_g,
            "fodmap_g": day.fodmap_g,
            "unit": _unit(day.food),
            "measure": _measure(day),
            "only": settings.only(day),
            "after": before.date.isoformat() if before is not None else None,
        }
    return shown


def _foods(days: Iterable[PlanDay]) -> list[dict[str, Any]]:
    """Every challenge food once, with the grams of its group per gram of food.

    A sealed sachet is taken whole: it has neither a portion nor a group to tell.
    """
    found: dict[str, dict[str, Any]] = {}
    for day in days:
        if day.phase != "challenge" or not day.food or day.food in found:
            continue
        known = day.portion_g is not None and day.fodmap_g is not None and day.portion_g > 0
        found[day.food] = {
            "food": day.food,
            "unit": _unit(day.food),
            "fodmap_group": day.fodmap_group or "",
            "per_unit": day.fodmap_g / day.portion_g if known else None,  # type: ignore[operator]
            "whole": day.sealed,
        }
    return list(found.values())


def _unit(food: str) -> str:
    known = find_food(food)
    return known.unit if known is not None else "g"


def _measure(day: PlanDay) -> str | None:
    if day.sealed:
        return "all of it, stirred into a glass of water"
    known = find_food(day.food)
    if known is None or day.portion_g is None:
        return None
    return known.in_household_measure(day.portion_g)


def _part(name: str) -> str:
    folder = resources.files("challenge.logbook").joinpath("data", "page")
    return folder.joinpath(name).read_text("utf-8")


def _script() -> str:
    parts = "\n".join(_part(name) for name in _SCRIPTS)
    head = 'const DATA = JSON.parse(document.getElementById("data").textContent);\n'
    return f'"use strict";\n(async () => {{\n{head}{parts}}})();\n'


def _json_in_html(value: Any) -> str:
    """JSON that cannot end the element in which it stands, whatever a food is called."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _policy(script: str, style: str, *, hosted: bool) -> str:
    rules = [
        "default-src 'none'",
        f"script-src '{_hash(script)}'",
        f"style-src '{_hash(style)}'",
        "connect-src 'none'",
        "base-uri 'none'",
        "form-action 'none'",
    ]
    if hosted:
        rules += ["manifest-src 'self'", "img-src 'self'", "worker-src 'self'"]
    else:
        rules += ["img-src data:"]
    return "; ".join(rules)


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _filled(template: str, **values: str) -> str:
    """Put values into ``@@NAME@@`` marks, in one pass, so that a value is never searched itself."""
    return re.sub(r"@@([A-Z]+)@@", lambda found: values[found[1]], template)
