"""The folder ``blinded/`` of a client, and the sealed key that lies elsewhere.

``blinded/01-lactose/`` holds ``trial.toml`` (what everybody may know, and a digest of the key),
``labels.pdf``, one ``frozen-01.json`` for each time the analysis was fixed, and ``opened.toml``
once the key was shown. Files are only ever added. The key itself is written where the third person
keeps it, never into the client's folder.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from challenge.diary.sachets import SachetContent
from challenge.errors import ChallengeError
from challenge.files.atomic import write_atomic
from challenge.files.client_toml import dumps, read_document
from challenge.files.folder import BLINDED, EVENTS, FOODS, SYMPTOMS, client_code, make_folder
from challenge.problems import Problem
from challenge.protocol.blinding import Key, Trial, key_problems, sachet_grams
from challenge.terms import GROUPS_AND_CONTROL

if TYPE_CHECKING:
    from challenge.analysis.blinded import OpenedTrial

TRIAL: Final = "trial.toml"
LABELS: Final = "labels.pdf"
OPENED: Final = "opened.toml"
_FROZEN: Final = re.compile(r"frozen-(\d\d)\.json")
_FORMAT: Final = 1

_TRIAL_HEAD: Final = """\
# A blinded challenge. Nothing in this folder tells which sachets hold what; `commitment` is a
# digest of the sealed key. Written by the program; do not edit.
"""
_KEY_HEAD: Final = """\
# SEALED KEY of a blinded challenge. Stop reading unless you are the person who keeps it or fills
# the sachets. Show it to nobody who sees the client before the analysis was fixed with
# `challenge freeze`. Do not edit: a changed key opens nothing.
"""
_OPENED_HEAD: Final = "# The key of this blinded challenge, shown after the analysis was fixed.\n"


@dataclass(frozen=True, kw_only=True)
class Opened:
    """How a trial was opened: with which key, when, and on which fixed analysis."""

    key: Key
    on: dt.datetime
    frozen: str
    frozen_digest: str


@dataclass(frozen=True, kw_only=True)
class StoredTrial:
    """A trial with its folder; ``opened`` is None as long as it is sealed."""

    folder: Path
    trial: Trial
    opened: Opened | None

    def frozen_files(self) -> list[Path]:
        """Return the files of fixed analyses, oldest first."""
        return sorted(p for p in self.folder.iterdir() if _FROZEN.fullmatch(p.name))


def read_trials(folder: str | os.PathLike[str]) -> tuple[StoredTrial, ...]:
    """Read every blinded challenge of a client folder, oldest first; none without the folder.

    Raises
    ------
    ChallengeError
        If one of them cannot be read.
    """
    home = Path(folder) / BLINDED
    if not home.is_dir():
        return ()
    code = client_code(folder)
    # a folder without its trial is what a broken-off draw left behind: no period was planned by it
    places = sorted(p for p in home.iterdir() if (p / TRIAL).exists())
    return tuple(_read_trial(place, code) for place in places)


def sealed_trial(trials: tuple[StoredTrial, ...]) -> StoredTrial | None:
    """Return the trial that is still sealed; there is at most one at a time."""
    return next((stored for stored in trials if stored.opened is None), None)


def sachet_contents(trials: tuple[StoredTrial, ...]) -> dict[str, SachetContent]:
    """Return what the sachets of opened trials held, by name."""
    contents = {}
    for stored in trials:
        if stored.opened is None:
            continue
        trial, holding = stored.trial, stored.opened.key.holding
        for sachet in trial.sachets():
            group = trial.fodmap_group if sachet.letter in holding else trial.control
            contents[sachet.name] = SachetContent(
                group=group,
                grams=sachet_grams(trial, group, sachet.step),
                portion_g=trial.portions[trial.steps.index(sachet.step)],
            )
    return contents


def opened_trials(folder: str | os.PathLike[str]) -> tuple[OpenedTrial, ...]:
    """Return the trials of a client that were opened, with the analysis fixed before that.

    Raises
    ------
    ChallengeError
        If one of them, or its fixed analysis, cannot be read.
    """
    stored_trials = read_trials(folder)
    if all(stored.opened is None for stored in stored_trials):
        return ()
    from challenge.analysis.blinded import OpenedTrial

    found = []
    for stored in stored_trials:
        if stored.opened is None:
            continue
        frozen = stored.folder / stored.opened.frozen
        document = read_frozen(frozen)
        found.append(
            OpenedTrial(
                trial=stored.trial,
                key=stored.opened.key,
                opened_on=stored.opened.on,
                frozen=document,
                intact=digest(frozen.read_bytes()) == stored.opened.frozen_digest,
            )
        )
    return tuple(found)


def trial_folder(folder: Path, trial: Trial) -> Path:
    """Return where a trial lies."""
    return folder / BLINDED / f"{trial.number:02d}-{trial.fodmap_group}"


def write_trial(folder: Path, trial: Trial, labels: bytes) -> Path:
    """Store a trial and its labels; the trial comes last, for it counts from then on."""
    place = trial_folder(folder, trial)
    make_folder(place.parent)
    make_folder(place)
    write_atomic(place / LABELS, labels)
    document = {"format": _FORMAT, **dataclasses.asdict(trial)}
    write_atomic(place / TRIAL, _TRIAL_HEAD + dumps(document))
    return place


def key_text(key: Key) -> str:
    """Return the text of a key file."""
    return _KEY_HEAD + dumps({"format": _FORMAT, **dataclasses.asdict(key)})


def new_key_problems(folder: Path, paths: Mapping[str, Path]) -> list[Problem]:
    """Return why the key and the filling list cannot be written where they should be."""
    home = folder.resolve()
    found = []
    for what, path in paths.items():
        target = path.resolve()
        if target == home or home in target.parents:
            message = f"The {what} would lie in the client's folder, where it would not be sealed."
        elif path.exists():
            message = f"There is a file {path} already; it may be another key."
        elif not path.parent.is_dir():
            message = f"There is no folder {path.parent} for the {what}."
        else:
            continue
        remedy = "Give --key-file a path on the third person's own medium."
        found.append(Problem(code="key-place", severity="error", message=message, remedy=remedy))
    return found


def read_key(path: Path) -> Key:
    """Read a key file.

    Raises
    ------
    ChallengeError
        With everything that is wrong with it.
    """
    document = read_document(path)
    found: list[str] = []
    values = _values(document, Key, found)
    if found:
        problems = [
            Problem(
                code="key-broken",
                severity="error",
                file=path.name,
                message=message,
                remedy="Ask the person who keeps the key for the file as it was written.",
            )
            for message in found
        ]
        raise ChallengeError(f"{path.name} is no key of a blinded challenge.", problems)
    return Key(**values)


def write_opened(stored: StoredTrial, key: Key, frozen: Path, when: dt.datetime) -> Path:
    """Store that a trial was opened. From then on its sachets have a content."""
    document = {
        "format": _FORMAT,
        "on": when.isoformat(timespec="minutes"),
        "frozen": frozen.name,
        "frozen_digest": digest(frozen.read_bytes()),
        "key": dataclasses.asdict(key),
    }
    return write_atomic(stored.folder / OPENED, _OPENED_HEAD + dumps(document))


def add_frozen(stored: StoredTrial, document: Mapping[str, Any]) -> Path:
    """Store a fixed analysis beside earlier ones."""
    files = stored.frozen_files()
    number = int(_FROZEN.fullmatch(files[-1].name)[1]) + 1 if files else 1  # type: ignore[index]
    text = json.dumps(
        {"format": _FORMAT, **document}, ensure_ascii=False, allow_nan=False, indent=1
    )
    return write_atomic(stored.folder / f"frozen-{number:02d}.json", text + "\n")


def read_frozen(path: Path) -> dict[str, Any]:
    """Read a fixed analysis.

    Raises
    ------
    ChallengeError
        If it is missing or broken.
    """
    try:
        document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if document["format"] != _FORMAT:
            raise KeyError("format")
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ChallengeError(
            f"The fixed analysis {path.name} cannot be read. Restore it from a copy."
        ) from error
    return document


def digest(data: bytes) -> str:
    """Return the SHA-256 digest of some bytes."""
    return hashlib.sha256(data).hexdigest()


def diary_digests(folder: Path) -> dict[str, str]:
    """Return a digest of each table of the diary that is there."""
    return {
        name: digest((folder / name).read_bytes())
        for name in (FOODS, SYMPTOMS, EVENTS)
        if (folder / name).exists()
    }


def _read_trial(place: Path, code: str) -> StoredTrial:
    document = read_document(place / TRIAL)
    found: list[str] = []
    values = _values(document, Trial, found)
    if not found:
        trial = Trial(**values)
        if (place / OPENED).exists():
            opened = _read_opened(place / OPENED, trial, code, found)
            if opened is not None:
                return StoredTrial(folder=place, trial=trial, opened=opened)
        else:
            return StoredTrial(folder=place, trial=trial, opened=None)
    raise ChallengeError(
        f"The blinded challenge in {BLINDED}/{place.name} cannot be read: {' '.join(found)} "
        "Restore its files from a copy."
    )


def _read_opened(path: Path, trial: Trial, code: str, found: list[str]) -> Opened | None:
    document = read_document(path)
    key_values = _values(document.get("key", {}), Key, found)
    try:
        when = dt.datetime.fromisoformat(document["on"])
        frozen, frozen_digest = str(document["frozen"]), str(document["frozen_digest"])
    except (KeyError, ValueError, TypeError):
        found.append(f"{path.name} is incomplete.")
    if found:
        return None
    key = Key(**key_values)
    found += key_problems(trial, key, code)
    if found:
        return None
    return Opened(key=key, on=when, frozen=frozen, frozen_digest=frozen_digest)


_TYPES: Final[Mapping[str, type | tuple[type, ...]]] = {
    "int": int,
    "str": str,
    "FodmapGroup": str,
    "dt.date": dt.date,
    "tuple[str, ...]": str,
    "tuple[int, ...]": int,
    "tuple[float, ...]": (int, float),
    "tuple[str, str]": str,
}


def _values(document: Any, kind: type, found: list[str]) -> dict[str, Any]:
    """The fields of a frozen record from a TOML table; what is missing or wrong is listed."""
    values: dict[str, Any] = {}
    if not isinstance(document, dict) or document.get("format", _FORMAT) != _FORMAT:
        found.append("It has another form.")
        return values
    for item in dataclasses.fields(kind):
        value = document.get(item.name)
        listed = str(item.type).startswith("tuple")
        parts = value if listed and isinstance(value, list) else [value]
        right = isinstance(value, list) == listed and all(
            isinstance(part, _TYPES[str(item.type)]) and not isinstance(part, bool)
            for part in parts
        )
        if not right or (item.type == "FodmapGroup" and value not in GROUPS_AND_CONTROL):
            found.append(f"{item.name} is missing or wrong.")
            continue
        values[item.name] = tuple(parts) if listed else value
    return values
