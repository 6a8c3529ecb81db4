"""What is said of each problem of a cell, and what the person can do."""

from __future__ import annotations

from typing import Final

from challenge.problems import Problem

_TIME: Final = "Write it like 2026-03-01T08:30."
_CLOCK: Final = "Write it like 08:30, or with the date before it like 2026-03-01T08:30."
_SAYS: Final[dict[str, tuple[str, str]]] = {
    "columns-missing": (
        "The columns are not those of foods, scores or events.",
        "Odd names can be mapped in client.toml under [diary.columns].",
    ),
    "no-rows": ("There is a header but no entry below it.", "Check that the file is complete."),
    "more-of-the-same": ("So many more cells of this column have problems.", ""),
    "column-not-read": (
        "This column is not one that a diary has; it was not read.",
        "Map it in client.toml under [diary.columns], or declare a symptom under [diary] symptoms.",
    ),
    "time-column-missing": (
        "There is no time of day beside the date.",
        "Add a column with the time of each entry.",
    ),
    "time-missing": ("There is no date with a time of day.", _TIME),
    "date-missing": ("The date is missing.", "Write it like 2026-03-01."),
    "date-unreadable": ("This is no date that can be read for certain.", _TIME),
    "date-impossible": ("There is no such day in the calendar.", "Correct the date."),
    "date-implausible": ("The year is outside 2000 to 2079.", "Correct the date."),
    "weekday-differs": ("The day of the week does not belong to the date.", "Correct one of them."),
    "date-order-unknown": (
        "Day and month can be read either way in this file.",
        "Say which comes first: --date-order dmy (day first) or --date-order mdy (month first).",
    ),
    "date-order-mixed": (
        "Some dates of this file have the day first, others the month.",
        "Correct the dates; a spreadsheet may have changed some of them.",
    ),
    "date-dotted": (
        "Day and month can be read either way; with dots between, the day was taken first.",
        "If that is wrong, use --date-order mdy (month first).",
    ),
    "date-serial": (
        "A spreadsheet's day number was read as a date (counted from 1900).",
        "Check the date; format the column as a date before exporting.",
    ),
    "dates-and-texts-mixed": (
        "Some cells of this column are dates, others text that the spreadsheet did not take for "
        "one; it may have exchanged day and month of the former.",
        "Compare the dates with the paper. Save the sheet as CSV, where all are written alike, and "
        "give that file; or format the column as text and type the dates again.",
    ),
    "formula-not-calculated": (
        "A formula stands here without its result.",
        "Open the file in a spreadsheet, save it and give it again; or type the value.",
    ),
    "formula-error": (
        "The formula in this cell gives an error.",
        "Type the value, or empty the cell.",
    ),
    "time-unreadable": ("This is no time of day that can be read for certain.", _CLOCK),
    "time-with-point": (
        "Times with a point were read as hours and minutes.",
        "If they are hours with decimals, take the import back (`challenge undo`), write them with "
        "a colon and give the file again.",
    ),
    "time-point-unclear": (
        "Times with a point cannot be read for certain: not all of this column can be hours and "
        "minutes.",
        _CLOCK,
    ),
    "time-noon-or-midnight": (
        "12 am and 12 pm are used for noon and for midnight.",
        "Write 12:00 for noon and 00:00 for midnight, with the date that begins then.",
    ),
    "time-impossible": (
        "There is no such time of day.",
        "Correct the time; midnight is 00:00 of the next day.",
    ),
    "time-skipped": (
        "The clock was put forward that night and left this time out.",
        "Correct the time; what is meant is usually an hour earlier or later.",
    ),
    "time-twice": (
        "The clock was put back that night, so this time came twice.",
        "Nothing to do if the order of entries within that hour does not matter.",
    ),
    "time-half-day-missing": (
        "Other times of this file have AM or PM, this one has not.",
        "Add AM or PM.",
    ),
    "time-with-zone": (
        "The time carries a time zone.",
        "Write local wall-clock time without a zone.",
    ),
    "number-unreadable": ("This is no number.", "Write digits with at most one decimal sign."),
    "number-ambiguous": (
        "This can be a thousand or a decimal number.",
        "Write it without a thousands sign, and decimals with one or two digits.",
    ),
    "number-negative": ("The amount is below zero.", "Correct it or leave the cell empty."),
    "number-too-large": ("The amount is more than 20 kg.", "Give grams or millilitres."),
    "number-not-given": ("Taken as not known.", "Leave the cell empty, or give the amount."),
    "group-unknown": (
        "This is not one of the carbohydrate groups.",
        "Use fructans, fructose, lactose, gos, sorbitol, mannitol, glucose or leave it empty.",
    ),
    "group-missing": (
        "There are grams of carbohydrate but no group.",
        "Fill in fodmap_group, or empty fodmap_g.",
    ),
    "grams-over-portion": (
        "There is more carbohydrate than food.",
        "Check portion_g and fodmap_g.",
    ),
    "portion-rounded": (
        "The portion seems to be rounded: it is a little less than the carbohydrate in it.",
        "Nothing to do: the grams of the carbohydrate are used.",
    ),
    "food-missing": ("The name of the food is missing.", "Fill it in or empty the row."),
    "score-unreadable": ("This is no score.", "Give a whole number from 0 to 10."),
    "score-not-whole": ("The score is not a whole number.", "Give a whole number from 0 to 10."),
    "score-out-of-range": ("The score is outside 0 to 10.", "Give a whole number from 0 to 10."),
    "stool-form-out-of-range": (
        "Stool form is outside 1 to 7.",
        "Give the Bristol type, from 1 to 7.",
    ),
    "score-not-given": ("Taken as not scored.", "Leave the cell empty, or give a score."),
    "score-missing": ("The score is missing; the row was left out.", "Give a score."),
    "symptom-missing": ("There is a score but no symptom.", "Name the symptom."),
    "symptom-unknown": (
        "This symptom is not one that the client follows.",
        "Correct it, or declare it in client.toml under [diary] symptoms.",
    ),
    "note-alone": (
        "A note with no score or food beside it was kept as an event of its day.",
        "Nothing to do if that is what was meant.",
    ),
    "note-without-day": ("There is a note but no day.", "Write the date beside it."),
    "event-missing": ("The event is not named.", "Say what it was: illness, travel, alcohol ..."),
    "event-ends-before-start": ("The end lies before the start.", "Correct one of the dates."),
}


def sentence_of(code: str) -> str:
    """Return what is wrong, in plain words."""
    return _SAYS[code][0]


def remedy_of(code: str) -> str:
    """Return what the person can do about it."""
    return _SAYS[code][1]


LISTED: Final = 5_000
"""Problems of one kind that are listed one by one; of more, only the number is told."""


def and_more(file: str, column: str, count: int) -> Problem:
    """Return what is said of errors beyond those listed."""
    code = "more-of-the-same"
    return Problem(
        code=code,
        severity="error",
        file=file,
        column=column,
        value=str(count),
        message=sentence_of(code),
        remedy=remedy_of(code),
    )
