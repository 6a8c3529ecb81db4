"""``client.toml`` to settings, with plain words for what is wrong in it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError

from challenge.problems import Problem
from challenge.protocol.settings import Settings

_WORDS: Final = {
    "greater_than": "must be more than {gt}",
    "greater_than_equal": "must be at least {ge}",
    "less_than": "must be less than {lt}",
    "less_than_equal": "must be at most {le}",
    "literal_error": "must be one of {expected}",
    "int_parsing": "must be a whole number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "float_parsing": "must be a number",
    "float_type": "must be a number",
    "string_type": "must be a text in quotes",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "tuple_type": "must be a list in square brackets",
    "dict_type": "must be a table",
    "model_type": "must be a table",
    "missing": "is missing",
    "string_too_long": "has more than {max_length} letters",
    "string_too_short": "is empty",
}


def parse_settings(text: str, file: str, client: str) -> tuple[Settings | None, list[Problem]]:
    """Read settings; None with errors, otherwise warnings for keys that nobody knows.

    Parameters
    ----------
    text
        Content of ``client.toml``.
    file
        Its name, for the problems.
    client
        Code of the client: the folder's name, which goes before the one in the file.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = f"The file is not valid TOML: {error}."
        return None, [_problem(file, "settings-broken", "error", message, None, "")]
    problems = [_nameless(file, *key) for key in _unknown(document, Settings)]
    try:
        settings = Settings.model_validate({**document, "client": client})
    except ValidationError as failure:
        return None, problems + [_wrong(file, dict(error)) for error in failure.errors()]
    if any(problem.severity == "error" for problem in problems):
        return None, problems
    return settings, problems


def _nameless(file: str, at: str, name: str, model: type[BaseModel]) -> Problem:
    """A key that nobody knows. In the screening it may be an answer, so it must not be passed."""
    similar = get_close_matches(name, model.model_fields, 1)
    message = "No setting has this name." + (f" Is {similar[0]} meant?" if similar else "")
    severity = "error" if at == "screening." else "warning"
    return _problem(file, "setting-unknown", severity, message, f"{at}{name}", "")


def _wrong(file: str, error: Mapping[str, Any]) -> Problem:
    key = ".".join(str(part) for part in error["loc"])
    words = _WORDS.get(error["type"])
    meant = _meant(error)
    if meant:
        message = f"{key} has no such value. Is {meant} meant?"
    elif words is not None:
        message = f"{key} {words.format(**error.get('ctx', {}))}."
    else:
        message = f"{key}: {error['msg'].removeprefix('Value error, ')}."
    return _problem(file, "setting-wrong", "error", message, key, str(error.get("input"))[:80])


def _meant(error: Mapping[str, Any]) -> str | None:
    """The allowed value that is most like what was written, if one is."""
    if error["type"] != "literal_error" or not isinstance(error.get("input"), str):
        return None
    allowed = re.findall(r"'([^']*)'", error["ctx"]["expected"])
    return next(iter(get_close_matches(error["input"], allowed, 1)), None)


def _unknown(
    document: Mapping[str, Any], model: type[BaseModel], at: str = ""
) -> Iterator[tuple[str, str, type[BaseModel]]]:
    """Yield keys that the settings do not have: where they stand, name, the table's model."""
    for key, value in document.items():
        field = model.model_fields.get(key)
        if field is None:
            yield at, key, model
        elif isinstance(value, dict) and _is_model(field.annotation):
            yield from _unknown(value, field.annotation, f"{at}{key}.")  # type: ignore[arg-type]
        elif isinstance(value, dict):
            # a table of tables: doses by group, disturbances by kind
            for inner in filter(_is_model, get_args(field.annotation)):
                for name, table in value.items():
                    if isinstance(table, dict):
                        yield from _unknown(table, inner, f"{at}{key}.{name}.")


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def _problem(
    file: str, code: str, severity: Any, message: str, key: str | None, value: str
) -> Problem:
    return Problem(
        code=code,
        severity=severity,
        file=file,
        column=key,
        value=value or None,
        message=message,
        remedy=f"Correct it in {file}.",
    )
