"""Documents that leave the machine, encrypted in memory in the age format (age-encryption.org/v1).

Any program of that format opens them again. Nothing is ever written to the disk in the clear.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from challenge.errors import ChallengeError
from challenge.problems import Problem

SUFFIX: Final = ".age"

LEAST_LETTERS: Final = 15
"""Shortest passphrase taken: what NIST SP 800-63B-4 asks of a password that stands alone (from
memory); a file that was sent can be tried offline for ever."""

_SECRET: Final = "AGE-SECRET-KEY-"


@dataclass(frozen=True, kw_only=True)
class Encryption:
    """For whom documents are encrypted: holders of keys, or whoever knows a passphrase.

    Attributes
    ----------
    keys
        Public keys (``age1...`` or a line of an SSH key), each of which can open the documents.
    passphrase
        Taken when there are no keys.
    """

    keys: tuple[str, ...] = ()
    passphrase: str = field(default="", repr=False)

    def encrypted(self, documents: Mapping[Path, bytes]) -> dict[Path, bytes]:
        """Return the documents encrypted, under their names with ``.age`` behind.

        The same document gives other bytes each time, for each gets a key of its own.
        """
        close = self._closer()
        return {path.with_name(path.name + SUFFIX): close(data) for path, data in documents.items()}

    def _closer(self) -> Callable[[bytes], bytes]:
        pyrage = _pyrage()
        if self.keys:
            recipients = [_recipient(pyrage, key) for key in self.keys]
            return lambda data: bytes(pyrage.encrypt(data, recipients))
        return lambda data: bytes(pyrage.passphrase.encrypt(data, self.passphrase))


def for_recipients(told: Sequence[str]) -> Encryption:
    """Return the encryption for public keys, given as such or as files with one key a line.

    Parameters
    ----------
    told
        Keys (``age1...``, ``ssh-ed25519 ...``) and names of files.

    Raises
    ------
    ChallengeError
        With everything that is no public key, or if the optional library is missing.
    """
    pyrage = _pyrage()
    keys: list[str] = []
    problems: list[Problem] = []
    for text in told:
        for file, line, key in _keys_in(text, problems):
            found = _fault(pyrage, key)
            if found is None:
                keys.append(key)
            else:
                problems.append(_problem(found, file=file, line=line))
    if problems:
        raise ChallengeError("Nothing was written: not every recipient can be used.", problems)
    return Encryption(keys=tuple(dict.fromkeys(keys)))


def for_passphrase(passphrase: str) -> Encryption:
    """Return the encryption for a passphrase.

    Raises
    ------
    ChallengeError
        If it is too short, or if the optional library is missing.
    """
    _pyrage()
    if len(passphrase) < LEAST_LETTERS:
        raise ChallengeError(
            f"The passphrase has {len(passphrase)} letters; take {LEAST_LETTERS} at least, for "
            "example five or six words that have nothing to do with each other."
        )
    return Encryption(passphrase=passphrase)


def _pyrage() -> Any:
    try:
        import pyrage
    except ImportError:
        raise ChallengeError(
            "Encryption needs an optional library that is not installed. "
            'Install it with:\n  pip install "challenge[encrypt]"'
        ) from None
    return pyrage


def _keys_in(text: str, problems: list[Problem]) -> Iterable[tuple[str | None, int | None, str]]:
    """Return the keys that an option names, each with the file and line where it stands."""
    if text.startswith(("age1", "ssh-")) or text.upper().startswith(_SECRET):
        return [(None, None, text.strip())]
    try:
        lines = Path(text).read_text(encoding="utf-8-sig").splitlines()
    except (OSError, ValueError):
        problems.append(_problem("This is neither a public key nor a file of them.", value=text))
        return []
    found = [
        (Path(text).name, number, line.strip())
        for number, line in enumerate(lines, 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not found:
        problems.append(_problem("The file holds no key.", file=Path(text).name))
    return found


def _fault(pyrage: Any, key: str) -> str | None:
    """Return why a text is no public key; the text itself is not repeated, it may be a secret."""
    if _SECRET in key.upper() or "PRIVATE KEY" in key:
        return (
            "This is a secret key. Give the public key that belongs to it (it begins with age1), "
            "and make a new pair if the secret key was typed where others can read it."
        )
    try:
        _recipient(pyrage, key)
    except (pyrage.RecipientError, ValueError):
        return "This is no public key that can be used; it may have been cut short."
    return None


def _recipient(pyrage: Any, key: str) -> Any:
    kind = pyrage.ssh if key.startswith("ssh-") else pyrage.x25519
    return kind.Recipient.from_str(key)


def _problem(
    message: str, *, file: str | None = None, line: int | None = None, value: str | None = None
) -> Problem:
    return Problem(
        code="recipient-unusable",
        severity="error",
        file=file,
        line=line,
        value=value,
        message=message,
        remedy="Ask the recipient for the public key again.",
    )
