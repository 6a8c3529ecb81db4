"""What the client's settings hold from before the challenges, written for a doctor."""

from __future__ import annotations

from challenge.letter.people import Background
from challenge.protocol.settings import ScreeningSettings
from challenge.wording import Words


def background_from(
    answers: ScreeningSettings, words: Words, *, reason: str = "", requests: tuple[str, ...] = ()
) -> Background:
    """Write out the screening answers; what was not asked stays empty.

    Parameters
    ----------
    answers
        As in the client's settings.
    words
        The language.
    reason
        Reason for referral, given with the letter.
    requests
        What the doctor is asked to do, given with the letter.
    """
    asked_on = answers.asked_on
    return Background(
        reason=reason,
        diagnosis=_diagnosis(answers, words),
        alarm=_alarm(answers, words),
        coeliac=_coeliac(answers, words),
        restriction=_restriction(answers, words),
        other=_other(answers, words),
        requests=requests,
        screened=asked_on is not None,
    )


def _diagnosis(answers: ScreeningSettings, words: Words) -> str:
    if answers.diagnosed_by_doctor is None:
        return ""
    return words(
        "screening.diagnosed" if answers.diagnosed_by_doctor else "screening.not_diagnosed"
    )


def _alarm(answers: ScreeningSettings, words: Words) -> str:
    if answers.asked_on is None:
        # an empty list of features proves nothing as long as nobody asked
        if not answers.alarm_features:
            return ""
        asked = words("screening.asked_no_date")
    else:
        asked = words("screening.asked", date=words.date(answers.asked_on))
    if not answers.alarm_features:
        return words("screening.alarm_none", asked=asked)
    features = words.join([words.condition(feature) for feature in answers.alarm_features])
    return words("screening.alarm_some", asked=asked, features=features)


def _coeliac(answers: ScreeningSettings, words: Words) -> str:
    if answers.coeliac_test is None:
        return ""
    result = words(f"screening.test.{answers.coeliac_test}")
    if answers.coeliac_test in ("not-done", "unknown"):
        return f"{result}."
    gluten = {True: "yes", False: "no", None: "unknown"}[answers.coeliac_test_on_gluten]
    return words("screening.coeliac", result=result, gluten=words(f"screening.gluten.{gluten}"))


def _restriction(answers: ScreeningSettings, words: Words) -> str:
    if answers.restriction_helped is None:
        return ""
    measure = ""
    if answers.restriction_measure and answers.restriction_change is not None:
        measure = words(
            "screening.measure_rise"
            if answers.restriction_change < 0
            else "screening.measure_change",
            measure=answers.restriction_measure,
            change=words.short(abs(answers.restriction_change)),
        )
    elif answers.restriction_measure:
        measure = words("screening.measure", measure=answers.restriction_measure)
    weeks = answers.restriction_weeks
    return words(
        "screening.restriction_helped"
        if answers.restriction_helped
        else "screening.restriction_not_helped",
        weeks="" if weeks is None else words("screening.weeks", weeks=words.number(weeks, 0)),
        measure=measure,
    )


def _other(answers: ScreeningSettings, words: Words) -> tuple[str, ...]:
    said = [
        words(f"screening.{key}", items=words.join([words.condition(item) for item in items]))
        for key, items in (
            ("conditions", answers.conditions),
            ("allergies", answers.allergies),
            ("medicines", answers.medicines),
        )
        if items
    ]
    said += [
        words(
            "screening.doctor_asked",
            condition=words.condition(asked.condition),
            doctor=asked.doctor,
            date=words.date(asked.on),
        )
        for asked in answers.doctor_asked
    ]
    return tuple(said)
