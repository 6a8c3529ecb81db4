"""A portion as a kitchen understands it: grams or millilitres, and a household measure."""

from __future__ import annotations

import re

from challenge.wording import Words
from challenge.wording.words import NO_BREAK


def amount_in_words(name: str, portion_g: float, words: Words) -> str:
    """Write ``250 mL (1 cup)``; the measure only where the table knows one for the food.

    Parameters
    ----------
    name
        Food, as the plan or the diary names it.
    portion_g
        Portion [g, or mL of a drink].
    words
        The language.
    """
    # the table of foods is read only when a portion is written
    from challenge.foods import find_food

    food = find_food(name)
    amount = words.grams(portion_g, food.unit if food else "g")
    measure = food.in_household_measure(portion_g) if food else None
    return f"{amount} ({household(measure, words)})" if measure else amount


def food_in_words(name: str, words: Words) -> str:
    """Name a food in the language where it is in the table of foods, else as it was written."""
    from challenge.foods import find_food

    food = find_food(name)
    return words.get(f"foods.{food.name}", name) if food else name


def household(measure: str, words: Words) -> str:
    """Write a household measure of the table of foods in the language, words tied to numbers."""
    table = words.table.get("measures", {})
    text = _added_up(measure)
    for english, other in sorted(table.items(), key=lambda item: -len(item[0])):
        text = text.replace(english, other)
    for plain, sign in (("1/4", "¼"), ("1/2", "½"), ("3/4", "¾")):
        text = text.replace(plain, sign)
    text = re.sub(r"(?<=\d) (?=[¼½¾])", "", text)
    return re.sub(r"(?<=[\d¼½¾]) ", NO_BREAK, text)


def _added_up(measure: str) -> str:
    """Write ``4 x 1/4 cup`` of the table of foods as the ``1 cup`` that people say."""
    found = re.fullmatch(r"((?:about )?)(\d+) x 1/([24]) (\w+)", measure)
    if found is None:
        return measure
    about, times, parts, noun = found.groups()
    whole, quarters = divmod(int(times) * 4 // int(parts), 4)
    rest = {0: "", 1: "1/4", 2: "1/2", 3: "3/4"}[quarters]
    number = " ".join(part for part in (str(whole) if whole else "", rest) if part)
    plural = "s" if 4 * whole + quarters > 4 else ""
    return f"{about}{number} {noun}{plural}"
