"""What both letters share: head, recipient, reference, draft notice, signature."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from challenge.letter.content import Block, Kind, Letter
from challenge.letter.people import Recipient, Sender
from challenge.wording import Words


def frame(
    *,
    kind: Kind,
    client: str,
    title: str,
    reference: Sequence[str],
    salutation: str,
    blocks: Sequence[Block],
    annex: Sequence[Block] = (),
    draft: bool,
    date: dt.date,
    sender: Sender,
    recipient: Recipient,
    words: Words,
) -> Letter:
    """Put what a letter says into its frame."""
    written = words.date(date)
    return Letter(
        kind=kind,
        language=words.language,
        paper=sender.paper,
        title=title,
        letterhead=sender.letterhead,
        recipient=tuple(line for line in (recipient.name, *recipient.address) if line),
        reference=(
            words("letter.date", date=written),
            words("letter.client_code", client=client),
            *reference,
        ),
        draft=words("letter.draft") if draft else "",
        running=words("letter.running", client=client, date=written),
        page_label=words.get("letter.page", ""),
        salutation=salutation,
        blocks=tuple(blocks),
        closing=words("letter.closing"),
        signature=sender.signature or (words("letter.signature_line"),),
        annex=tuple(annex),
    )
