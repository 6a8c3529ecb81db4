"""Who writes to whom about what: given when a letter is made, never stored with the results."""

from __future__ import annotations

from dataclasses import dataclass, field

from challenge.letter.content import Paper


@dataclass(frozen=True, kw_only=True, slots=True)
class Sender:
    """The practice: letterhead, signature, contact and paper."""

    letterhead: tuple[str, ...] = ()
    signature: tuple[str, ...] = ()
    contact: str = ""
    paper: Paper = "a4"


@dataclass(frozen=True, kw_only=True, slots=True)
class Recipient:
    """Whom the letter is for, and whom it is about.

    Attributes
    ----------
    name, address
        Of the recipient; may be empty.
    about
        Name of the client, in a letter to the doctor; may be empty.
    """

    name: str = field(default="", repr=False)
    address: tuple[str, ...] = field(default=(), repr=False)
    about: str = field(default="", repr=False)


@dataclass(frozen=True, kw_only=True, slots=True)
class Background:
    """What is on record from before the challenges, as written; empty where nothing is.

    Attributes
    ----------
    reason
        Reason for referral.
    diagnosis
        Diagnosis as the doctor made it.
    alarm, coeliac
        Alarm questions and coeliac blood test, as recorded.
    restriction
        Whether the restriction phase helped, and by how much.
    other
        Further lines, such as medicines or conditions on which a doctor was asked.
    requests
        What the doctor is asked to do.
    screened
        Whether screening is on record at all.
    """

    reason: str = ""
    diagnosis: str = ""
    alarm: str = ""
    coeliac: str = ""
    restriction: str = ""
    other: tuple[str, ...] = ()
    requests: tuple[str, ...] = ()
    screened: bool = False
