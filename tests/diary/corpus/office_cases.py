"""Files that LibreOffice itself wrote, and the script that had it write them.

``python -m tests.diary.corpus.office_cases`` needs ``soffice`` (these were written with LibreOffice
7.4.7.2). Set to each language in turn, it reads that language's text with detection of special
numbers, so that dates and numbers become true ones, and saves it as ODS, XLSX and CSV; workbooks of
the corpus are saved as ODS. Its files are kept, for no two versions write alike.
"""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

from .case import FILES, Case
from .tables import foods, long, text, wide
from .truth import SETTINGS, Setting
from .truth import foods as true_foods
from .truth import scores as true_scores

# number of the language in LibreOffice (MS-LCID)
_LANGUAGE = {"en-GB": 2057, "en-US": 1033, "de": 1031, "fr": 1036, "es": 3082, "pl": 1045}
_LOCALE = {"en-GB": "en-GB", "en-US": "en-US", "de": "de-DE", "fr": "fr-FR", "es": "es-ES",
           "pl": "pl-PL"}  # fmt: skip
_PROFILE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse">
<value>{}</value></prop></item></oor:items>
"""
_CODE_PAGE = {"cp1252": 1, "cp1250": 33}
_UTF8 = 76
_AS_ODS = (
    "excel-mac-1904.xlsx",
    "excel-en-GB-hidden-sheet.xlsx",
    "excel-en-GB-merged-dates.xlsx",
    "excel-en-GB-merged-score.xlsx",
    "excel-fr-title-and-merged-heads.xlsx",
    "formula-error.xlsx",
    "formula-with-result.xlsx",
    "excel-en-US-several-sheets.xlsx",
    "dates-exchanged-by-the-spreadsheet.xlsx",
    "time-as-duration.xlsx",
    "midnight.xlsx",
    "time-forgotten.xlsx",
)


def office_cases(books: dict[str, Case]) -> Iterator[Case]:
    for s in SETTINGS.values():
        yield Case(
            file=f"libreoffice-{s.code}.ods", says="ODS by LibreOffice, wide",
            symptoms=true_scores(s.code),
        )  # fmt: skip
        yield Case(
            file=f"libreoffice-{s.code}.xlsx", says="XLSX by LibreOffice, foods",
            foods=true_foods(s.code),
        )  # fmt: skip
        yield Case(
            file=f"libreoffice-{s.code}.csv", says="CSV by LibreOffice, UTF-8, long",
            symptoms=true_scores(s.code),
        )  # fmt: skip
        yield Case(
            file=f"libreoffice-{s.code}-page.csv",
            says="CSV by LibreOffice in the system's code page, all texts in quotes, foods",
            foods=true_foods(s.code),
            warnings=frozenset({"encoding-guessed"}),
        )
    for name in _AS_ODS:
        case = books[name]
        yield Case(
            file=f"libreoffice-{name.removesuffix('.xlsx')}.ods",
            says=f"{case.says}; ODS by LibreOffice",
            foods=case.foods,
            symptoms=case.symptoms,
            warnings=case.warnings,
            errors=case.errors,
        )


def write() -> None:
    """Have LibreOffice write its files."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for s in SETTINGS.values():
            _written(folder, s, text(wide(s), s), "ods", f"libreoffice-{s.code}.ods")
            _written(folder, s, text(foods(s), s), "xlsx", f"libreoffice-{s.code}.xlsx")
            language = _LANGUAGE[s.code]
            tokens = f"{ord(s.separator)},34,{{}},1,,{language},{{}},true"
            out = f"csv:Text - txt - csv (StarCalc):{tokens}"
            _written(
                folder, s, text(long(s), s), out.format(_UTF8, "false"), f"libreoffice-{s.code}.csv"
            )
            _written(
                folder, s, text(foods(s), s), out.format(_CODE_PAGE[s.page], "true"),
                f"libreoffice-{s.code}-page.csv",
            )  # fmt: skip
        for book in _AS_ODS:
            _convert(folder, "en-US", FILES / book, "ods", ())
            made = folder / "out" / f"{book.removesuffix('.xlsx')}.ods"
            (FILES / f"libreoffice-{made.name}").write_bytes(made.read_bytes())


def _written(folder: Path, s: Setting, typed: str, kind: str, name: str) -> None:
    source = folder / "typed.csv"
    source.write_text(typed, encoding="utf-8", newline="")
    language = _LANGUAGE[s.code]
    read = f"--infilter=CSV:{ord(s.separator)},34,{_UTF8},1,,{language},false,true"
    _convert(folder, s.code, source, "ods", (read,))
    if kind != "ods":
        _convert(folder, s.code, folder / "out" / "typed.ods", kind, ())
    made = folder / "out" / f"typed.{kind.partition(':')[0]}"
    (FILES / name).write_bytes(made.read_bytes())


def _convert(folder: Path, code: str, source: Path, kind: str, more: tuple[str, ...]) -> None:
    profile = folder / code
    settings = profile / "user" / "registrymodifications.xcu"
    if not settings.exists():
        settings.parent.mkdir(parents=True)
        settings.write_text(_PROFILE.format(_LOCALE[code]), encoding="utf-8")
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{profile}", *more,
         "--convert-to", kind, "--outdir", str(folder / "out"), str(source)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip


if __name__ == "__main__":
    write()
