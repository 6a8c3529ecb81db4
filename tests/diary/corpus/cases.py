"""Every file of the corpus. ``python -m tests.diary.corpus.cases`` writes those made by script."""

from __future__ import annotations

from .book_cases import book_cases
from .case import FILES, Case
from .office_cases import office_cases
from .text_cases import text_cases

_BOOKS = {case.file: case for case in book_cases()}
CASES: list[Case] = [*text_cases(), *_BOOKS.values(), *office_cases(_BOOKS)]


def write() -> None:
    """Write the files whose bytes the script knows; those of a spreadsheet program stay."""
    for case in CASES:
        if case.data is not None:
            case.path.parent.mkdir(parents=True, exist_ok=True)
            case.path.write_bytes(case.data)


if __name__ == "__main__":
    write()
    print(f"{len({case.file for case in CASES})} files in {FILES}")  # noqa: T201
