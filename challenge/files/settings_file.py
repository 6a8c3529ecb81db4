"""``client.toml`` to settings, with plain words for what is wrong in it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any, Final

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
    problems = [
        _problem(file, "setting-unknown", "warning", "No setting has this name.", key, "")
        for key in _unknown(document, Settings)
    ]
    try:
        settings = Settings.model_validate({**document, "client": client})
    except ValidationError as failure:
        return None, problems + [_wrong(file, dict(error)) for error in failure.errors()]
    return settings, problems


def _wrong(file: str, error: Mapping[str, Any]) -> Problem:
    key = ".".join(str(part) for part in error["loc"])
    words = _WORDS.get(error["type"])
    if words is not None:
        message = f"{key} {words.format(**error.get('ctx', {}))}."
    else:
        message = f"{key}: {error['msg'].removeprefix('Value error, ')}."
    return _problem(file, "setting-wrong", "error", message, key, repr(error.get("input"))[:80])


def _unknown(document: Mapping[str, Any], model: type[BaseModel], at: str = "") -> Iterator[str]:
    """Yield the dotted names of keys that the settings do not have."""
    for key, value in document.items():
        field = model.model_fields.get(key)
        if field is None:
            yield f"{at}{key}"
        elif isinstance(value, dict) and _is_model(field.annotation):
            yield from _unknown(value, field.annotation, f"{at}{key}.")  # type: ignore[arg-type]


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
        remedy="Correct it in client.toml.",
    )
