"""Text files as spreadsheets write them. Forms of Excel, Numbers and Google Sheets from memory:
what each program writes under which menu entry has no source here beyond use of the programs.
"""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterator

from .case import Case
from .tables import apart, foods, long, text, wide
from .truth import SCORED, SETTINGS, Moment, Setting, iso
from .truth import foods as true_foods
from .truth import scores as true_scores

NARROW = "\N{NARROW NO-BREAK SPACE}"
PLAIN = "time,symptom,score\r\n"


def text_cases() -> Iterator[Case]:
    for setting in SETTINGS.values():
        yield from _excel(setting)
        yield from _sheets_and_numbers(setting)
    yield from _odd_excel()
    yield from _old_pages()
    yield from _ambiguous()
    yield from _date_forms()
    yield from _layouts()
    yield from _traps()
    yield from _clock_changes()


def _excel(s: Setting) -> Iterator[Case]:
    yield Case(
        file=f"excel-{s.code}.csv",
        says="Save as > CSV: the system's code page, its list separator, CRLF",
        data=text(wide(s), s).encode(s.page),
        symptoms=true_scores(s.code),
        warnings=frozenset() if s.code == "en-US" else frozenset({"encoding-guessed"}),
    )
    yield Case(
        file=f"excel-{s.code}-utf8.csv",
        says="Save as > CSV UTF-8: with a byte order mark",
        data=codecs.BOM_UTF8 + text(long(s), s).encode(),
        symptoms=true_scores(s.code),
    )
    yield Case(
        file=f"excel-{s.code}-unicode.txt",
        says="Save as > Unicode text: UTF-16 with a mark, tabs, quotes where a cell has a tab",
        data=codecs.BOM_UTF16_LE + text(foods(s), s, separator="\t").encode("utf-16-le"),
        foods=true_foods(s.code),
    )


def _sheets_and_numbers(s: Setting) -> Iterator[Case]:
    yield Case(
        file=f"sheets-{s.code}.csv",
        says="Google Sheets > Download > CSV: always commas and UTF-8, numbers as shown, seconds",
        data=text(foods(s), s, separator=",", stamp=lambda t: f"{s.stamp(t)}:00")
        .removesuffix("\r\n")
        .encode(),
        foods=true_foods(s.code),
    )
    day, clock = _NUMBERS[s.code]
    yield Case(
        file=f"numbers-{s.code}.csv",
        says="Numbers > Export > CSV: UTF-8, LF, short date and time in columns of their own",
        data=text(apart(wide(s), s, day, clock), s, end="\n").encode(),
        symptoms=true_scores(s.code),
    )


def _twelve(t: Moment, am: str = "AM", pm: str = "PM", space: str = " ") -> str:
    return f"{(t.hour - 1) % 12 + 1}:{t:%M}{space}{am if t.hour < 12 else pm}"


def _clock(t: Moment) -> str:
    return f"{t:%H:%M}"


_NUMBERS: dict[str, tuple[Callable[[Moment], str], Callable[[Moment], str]]] = {
    "en-GB": (lambda t: f"{t.day} {t:%b} {t.year}", _clock),
    # since 2022 a narrow no-break space stands before AM and PM (CLDR 42)
    "en-US": (lambda t: f"{t.month}/{t.day}/{t:%y}", lambda t: _twelve(t, space=NARROW)),
    "de": (lambda t: f"{t:%d.%m.%y}", _clock),
    "fr": (lambda t: f"{t:%d/%m/%Y}", lambda t: f"{t.hour}h{t:%M}"),
    "es": (
        lambda t: f"{t.day}/{t.month}/{t:%y}",
        lambda t: _twelve(t, "a.\xa0m.", "p.\xa0m.", "\xa0"),
    ),
    "pl": (lambda t: f"{t:%Y-%m-%d}", _clock),
}


def _odd_excel() -> Iterator[Case]:
    de, us, es, pl = (SETTINGS[code] for code in ("de", "en-US", "es", "pl"))
    yield Case(
        file="sep-line-semicolon.csv",
        says="a first line sep=; as some programs write for Excel",
        data=b"sep=;\r\n" + text(wide(de), de).encode("cp1252"),
        symptoms=true_scores("de"),
        warnings=frozenset({"encoding-guessed"}),
    )
    yield Case(
        file="sep-line-wrong-score.csv",
        says="Excel shows no sep= line: the header is line 1",
        data=b"sep=;\r\ntime;pain\r\n2026-03-04T08:00;2\r\n2026-03-05T08:00;12\r\n",
        errors=frozenset({"score-out-of-range"}),
        at=("score-out-of-range", 3, "pain", "12"),
    )
    yield Case(
        file="sep-line-tab-utf8.csv",
        says="byte order mark, sep= with a tab",
        data=codecs.BOM_UTF8 + b"sep=\t\r\n" + text(foods(pl), pl, separator="\t").encode(),
        foods=true_foods("pl"),
    )
    yield Case(
        file="pipe-quoted-all.csv",
        says="cells separated by |, every cell in quotes",
        data=text(foods(us), us, separator="|", quote_all=True, end="\n").encode(),
        foods=true_foods("en-US"),
    )
    yield Case(
        file="utf16-big-endian-no-mark.txt",
        says="UTF-16 without a mark",
        data=text(long(us), us, separator="\t").encode("utf-16-be"),
        symptoms=true_scores("en-US"),
    )
    yield Case(
        file="excel-pl-older.csv",
        says="Polish Windows before version 10 writes year-month-day",
        data=text(wide(pl), pl, stamp=lambda t: f"{t:%Y-%m-%d %H:%M}").encode("cp1250"),
        symptoms=true_scores("pl"),
        warnings=frozenset({"encoding-guessed"}),
    )
    yield Case(
        file="excel-en-US-twelve-hours.csv",
        says="12-hour clock in one column with the date",
        data=text(
            long(us), us, stamp=lambda t: f"{t.month}/{t.day}/{t.year} {_twelve(t)}"
        ).encode(),
        symptoms=true_scores("en-US"),
    )
    yield Case(
        file="excel-es-twelve-hours.csv",
        says="Spanish of Latin America: 08:05 a. m.",
        data=text(
            long(es), es, stamp=lambda t: f"{t:%d/%m/%Y} {_twelve(t, 'a. m.', 'p. m.')}"
        ).encode("cp1252"),
        symptoms=true_scores("es"),
        warnings=frozenset({"encoding-guessed"}),
    )
    yield Case(
        file="google-forms.csv",
        says="answers of a form, downloaded: times carry a zone",
        data=text(long(us), us, stamp=lambda t: f"{t:%Y/%m/%d} {_twelve(t)} GMT+1").encode(),
        errors=frozenset({"time-with-zone"}),
    )
    yield Case(
        file="serial-dates.csv",
        says="a date column formatted as a number: 46085.336806",
        data=text(long(us), us, stamp=lambda t: f"{_serial(t):.6f}").encode(),
        symptoms=true_scores("en-US"),
        warnings=frozenset({"date-serial"}),
    )
    yield Case(
        file="serial-dates-apart.csv",
        says="day number and fraction of a day, decimal comma",
        data=text(
            apart(
                long(de), de,
                lambda t: f"{int(_serial(t))}",
                lambda t: f"{_serial(t) % 1:.9f}".replace(".", ","),
            ),
            de,
        ).encode(),
        symptoms=true_scores("de"),
        warnings=frozenset({"date-serial"}),
    )  # fmt: skip


def _serial(t: Moment) -> float:
    # day 1 is 1900-01-01; a leap day of 1900 that never was is counted (ECMA-376 part 1, 18.17.4.1)
    return (t - Moment(1899, 12, 30)).total_seconds() / 86_400


def _old_pages() -> Iterator[Case]:
    de, fr, pl = (SETTINGS[code] for code in ("de", "fr", "pl"))
    yield Case(
        file="excel-mac-fr.csv",
        says="Save as > CSV (Macintosh): Mac Roman, line ends CR",
        data=text(wide(fr), fr, end="\r").encode("mac_roman"),
        symptoms=true_scores("fr"),
        warnings=frozenset({"encoding-guessed"}),
    )
    dashless = text(wide(de), de).replace("–", "-").replace("„", "'").replace("“", "'")
    yield Case(
        file="excel-dos-de.csv",
        says="Save as > CSV (MS-DOS), German",
        data=dashless.encode("cp850"),
        symptoms=[
            (*row[:3], row[3].replace("–", "-").replace("„", "'").replace("“", "'"), row[4])
            for row in true_scores("de")
        ],
        warnings=frozenset({"encoding-guessed"}),
    )
    yield Case(
        file="excel-dos-pl.csv",
        says="Save as > CSV (MS-DOS), Polish",
        data=text(foods(pl), pl)
        .replace("–", "-")
        .replace("„", "'")
        .replace("”", "'")
        .encode("cp852"),
        foods=[
            (*row[:5], row[5].replace("–", "-").replace("„", "'").replace("”", "'"), row[6])
            for row in true_foods("pl")
        ],
        warnings=frozenset({"encoding-guessed"}),
    )
    rows = "data;godzina;produkt\r\n13.03.2026;08:00;mięso\r\n"
    yield Case(
        file="page-unsure.csv",
        says="one word beyond ASCII that French and Polish can both have",
        data=rows.encode("cp1250"),
        errors=frozenset({"encoding-unsure"}),
    )
    for page, word in (("windows-1250", "mięso"), ("windows-1252", "miêso")):
        yield Case(
            file="page-unsure.csv",
            says="the same when the person says which",
            told={"encoding": page},
            foods=[("2026-03-13T08:00", word, "", "", "", "", "")],
        )
    yield Case(
        file="page-unknown-ru.csv",
        says="a page of a language we do not know",
        data="date,time,food,note\r\n2026-03-13,08:00,хлеб,вкусно\r\n".encode("cp1251"),
        errors=frozenset({"encoding-unsure"}),
    )


def _ambiguous() -> Iterator[Case]:
    us, gb, de = (SETTINGS[code] for code in ("en-US", "en-GB", "de"))
    early = SCORED[:4]
    for s, stated in ((us, "month-first"), (gb, "day-first")):
        data = text(long(s, early), s).replace("–", "-").replace("’", "'").encode()
        true = [
            (*row[:3], row[3].replace("–", "-").replace("’", "'"), row[4])
            for row in true_scores(s.code, early)
        ]
        yield Case(
            file=f"ambiguous-{s.code}.csv",
            says="no day after the 12th: day and month can be read either way",
            data=data,
            errors=frozenset({"date-order-unknown"}),
        )
        yield Case(
            file=f"ambiguous-{s.code}.csv",
            says="the same when the person says which comes first",
            told={"date_order": stated},
            symptoms=true,
        )
    yield Case(
        file="ambiguous-dotted-de.csv",
        says="with dots between, the day comes first in every setting known; said so",
        data=text(long(de, early), de).encode(),
        symptoms=true_scores("de", early),
        warnings=frozenset({"date-dotted"}),
    )
    yield Case(
        file="two-orders.csv",
        says="two people filled it in, each in their own order",
        data=(PLAIN + "13/03/2026 08:00,pain,1\r\n03/14/2026 08:00,pain,2\r\n").encode(),
        errors=frozenset({"date-order-mixed"}),
    )
    yield Case(
        file="dots-and-strokes.csv",
        says="typed month first into a spreadsheet that writes day.month: 3/13 stayed as typed",
        data=(PLAIN + "03.04.2026 08:00,pain,1\r\n3/13/2026 08:00,pain,2\r\n").encode(),
        errors=frozenset({"date-order-mixed"}),
    )
    yield Case(
        file="order-told-by-another-column.csv",
        says="the order is decided once per file: entered_at tells what time alone does not",
        data=b"time,symptom,score,entered at\r\n03/04/2026 08:00,pain,1,03/13/2026 09:00\r\n",
        symptoms=[("2026-03-04T08:00", "pain", "1", "", "2026-03-13T09:00")],
    )
    yield Case(
        file="columns-of-two-orders.csv",
        says="day first in one column, month first in the other",
        data=b"start,end,event\r\n13/03/2026,03/14/2026,travel\r\n04/03/2026,,stress\r\n",
        errors=frozenset({"date-order-mixed"}),
    )
    yield Case(
        file="two-digit-years-ambiguous.csv",
        says="26-03-04 may begin with year or day",
        data=(PLAIN + "26-03-04 08:00,pain,1\r\n").encode(),
        errors=frozenset({"date-order-unknown"}),
    )
    yield Case(
        file="iso-although-day-first-was-said.csv",
        says="ISO dates stay what they are whatever is said of the others",
        data=(PLAIN + "2026-02-03 08:00,pain,1\r\n").encode(),
        told={"date_order": "day-first"},
        symptoms=[("2026-02-03T08:00", "pain", "1", "", "")],
    )


_MONTHS = {
    "en-GB": "4 March 2026", "en-US": "Mar 4, 2026", "de": "4. März 2026",
    "fr": "4 mars 2026", "es": "4 de marzo de 2026", "pl": "4 marca 2026",
}  # fmt: skip
_WITH_WEEKDAY = {
    "en-GB": "Wed 04/03/2026", "en-US": "Wednesday, March 4, 2026", "de": "Mi, 04.03.2026",
    "fr": "mer. 04/03/2026", "es": "miércoles, 4 de marzo de 2026", "pl": "śr. 04.03.2026",
}  # fmt: skip


def _date_forms() -> Iterator[Case]:
    for name, forms in (("month-names", _MONTHS), ("weekdays", _WITH_WEEKDAY)):
        for code, form in forms.items():
            s = SETTINGS[code]
            numeric = code in ("en-GB", "fr") and name == "weekdays"
            head = f"{s.names['date']};{s.names['clock']};{s.names['pain']}"
            # a second, decisive day where the form alone can be read either way
            rows = f"{form};8:05;2" + ("\n13/03/2026;8:05;3" if numeric else "")
            true = [("2026-03-04T08:05", "pain", "2", "", "")]
            yield Case(
                file=f"{name}-{code}.csv",
                says="months and days of the week by name",
                data=f"{head}\n{rows}\n".encode(),
                symptoms=true + ([("2026-03-13T08:05", "pain", "3", "", "")] if numeric else []),
                warnings=frozenset({"date-dotted"})
                if name == "weekdays" and code in ("de", "pl")
                else frozenset(),
            )
    yield Case(
        file="weekday-contradicts.csv",
        says="4 March 2026 is a Wednesday",
        data=b"date;time;pain\nThu 4 March 2026;8:05;2\n",
        errors=frozenset({"weekday-differs"}),
    )


def _layouts() -> Iterator[Case]:
    de, fr, gb = (SETTINGS[code] for code in ("de", "fr", "en-GB"))
    yield Case(
        file="empty-columns-and-rows.csv",
        says="empty columns at the right, empty rows below, as Excel writes a touched sheet",
        data="".join(
            f"{line};;;\r\n" for line in text(foods(de), de).splitlines()
        ).encode("cp1252") + b";;;;;;;;\r\n" * 5,
        foods=true_foods("de"),
        warnings=frozenset({"encoding-guessed"}),
    )  # fmt: skip
    title = "Journal alimentaire;;;;;\r\nPatient : genévrier;;;;;\r\n;;;;;\r\n"
    yield Case(
        file="title-rows.csv",
        says="a title and an empty row above the header",
        data=(title + text(wide(fr), fr)).encode("cp1252"),
        symptoms=true_scores("fr"),
        warnings=frozenset({"encoding-guessed"}),
    )
    yield Case(
        file="blank-lines-between-days.csv",
        says="an empty line between the days, and a wrong score below it (line 8 in a spreadsheet)",
        data=(PLAIN + "2026-03-04T08:00,pain,1\r\n\r\n\r\n2026-03-05T08:00,pain,2\r\n\r\n"
              "2026-03-06T08:00,pain,3\r\n2026-03-07T08:00,pain,33\r\n").encode(),
        errors=frozenset({"score-out-of-range"}),
        at=("score-out-of-range", 8, "score", "33"),
    )  # fmt: skip
    yield Case(
        file="both-in-one.csv",
        says="foods and scores in one table",
        data=b"Date,Time,Food,Portion g,Pain,Bloating\r\n"
        b"13/03/2026,08:00,porridge,40,2,\r\n13/03/2026,12:30,,,3,4\r\n",
        foods=[("2026-03-13T08:00", "porridge", "40", "", "", "", "")],
        symptoms=[
            ("2026-03-13T08:00", "pain", "2", "", ""),
            ("2026-03-13T12:30", "bloating", "4", "", ""),
            ("2026-03-13T12:30", "pain", "3", "", ""),
        ],
    )
    yield Case(
        file="events-fr.csv",
        says="disturbances, French",
        data="Début;Fin;Évènement;Remarque\r\n13/03/2026;14/03/2026;voyage;en train\r\n"
        "05/03/2026;;stress;\r\n".encode("cp1252"),
        events=[
            ("2026-03-05", "2026-03-05", "stress", ""),
            ("2026-03-13", "2026-03-14", "voyage", "en train"),
        ],
        warnings=frozenset({"encoding-guessed"}),
    )
    yield Case(
        file="thousands-en-GB.csv",
        says="1,250 may be a thousand or a decimal number",
        data=b'date,time,food,portion g\r\n13/03/2026,08:00,soup,"1,250"\r\n',
        errors=frozenset({"number-ambiguous"}),
    )
    yield Case(
        file="thousands-shown-fr.csv",
        says="a narrow space between thousands, decimals elsewhere in the file",
        data="date;heure;aliment;quantité (g)\r\n13/03/2026;08:00;soupe;1\u202f250,5\r\n".encode(),
        foods=[("2026-03-13T08:00", "soupe", "1250.5", "", "", "", "")],
    )
    yield Case(
        file="units-in-cells.csv",
        says="the unit written beside the number",
        data=b"date,time,food,portion\r\n13/03/2026,08:00,milk,250 ml\r\n",
        foods=[("2026-03-13T08:00", "milk", "250", "", "", "", "")],
    )
    yield Case(
        file="formula-text.csv",
        says="text that a spreadsheet would run, with the apostrophe that keeps it from doing so",
        data=b"time,food,note\r\n2026-03-13T08:00,'=1+1,'-3 to 5\r\n"
        b"2026-03-13T09:00,'@home,'90s\r\n",
        foods=[
            ("2026-03-13T08:00", "=1+1", "", "", "", "-3 to 5", ""),
            ("2026-03-13T09:00", "@home", "", "", "", "'90s", ""),
        ],
    )
    quoted = long(gb, SCORED[:1])
    quoted[1][3] = 'first line\nsecond "line"; and, more'
    yield Case(
        file="line-break-in-a-note.csv",
        says="a note over two lines (Alt+Enter)",
        data=text(quoted, gb, stamp=iso).encode(),
        symptoms=[
            (*row[:3], 'first line\nsecond "line"; and, more' if row[1] == "pain" else "", "")
            for row in true_scores("en-GB", SCORED[:1])
        ],
    )


def _traps() -> Iterator[Case]:
    """Traps in which common readers were seen to fall."""
    ok = "2026-03-13T08:00,pain,3\r\n"
    yield Case(
        file="trap-extra-field-on-every-row.csv",
        says="one field more than the header on every row: nothing may shift",
        data=(PLAIN + "2026-03-13T08:00,pain,3,x\r\n2026-03-14T08:00,pain,4,y\r\n").encode(),
        errors=frozenset({"row-too-long"}),
    )
    yield Case(
        file="trap-ragged.csv",
        says="one row short, one long: both told, not only the first",
        data=(PLAIN + ok + "2026-03-14T08:00,pain\r\n2026-03-15T08:00,pain,4,5\r\n").encode(),
        errors=frozenset({"row-too-long"}),
        warnings=frozenset({"row-short", "score-missing"}),
        at=("row-too-long", 4, None, "5"),
    )
    yield Case(
        file="trap-missing-words.csv",
        says="NA, None, null, n/a as a score are no score; as a food they are a name",
        data=b"time,food,pain\r\n2026-03-13T08:00,NA,NA\r\n2026-03-13T09:00,None,null\r\n"
        b"2026-03-13T10:00,nan,n/a\r\n",
        foods=[
            ("2026-03-13T08:00", "NA", "", "", "", "", ""),
            ("2026-03-13T09:00", "None", "", "", "", "", ""),
            ("2026-03-13T10:00", "nan", "", "", "", "", ""),
        ],
        warnings=frozenset({"score-not-given"}),
    )
    yield Case(
        file="trap-007-and-1e5.csv",
        says="007 and 1e5 as a food stay as typed; 1e1 is no score",
        data=b"time,food,pain\r\n2026-03-13T08:00,007,1e1\r\n2026-03-13T09:00,1e5,2\r\n",
        errors=frozenset({"score-unreadable"}),
        at=("score-unreadable", 2, "pain", "1e1"),
    )
    yield Case(
        file="trap-unclosed-quote.csv",
        says="a quote that is never closed",
        data=(PLAIN + '2026-03-13T08:00,"pain,3\r\n2026-03-14T08:00,pain,4\r\n').encode(),
        errors=frozenset({"quote-not-closed"}),
    )
    for number, date in enumerate(("May", "10", "8.30", "830", "31/04/2026", "13/13/2026"), 1):
        yield Case(
            file=f"trap-no-date-{number}.csv",
            says=f"{date!r} is no date",
            data=f"date,time,pain\r\n13/03/2026,08:00,3\r\n{date},08:00,4\r\n".encode(),
            errors=frozenset({"date-impossible" if "/" in date else "date-unreadable"}),
        )
    clocks = {
        "0:15 pm": "time-impossible",
        "13:05 PM": "time-impossible",
        "25:00": "time-impossible",
        "8.30": "time-half-day-missing",
        "8": "time-unreadable",
    }
    for number, (clock, code) in enumerate(clocks.items(), 1):
        yield Case(
            file=f"trap-no-time-{number}.csv",
            says=f"{clock!r} is no time of day that can be read for certain",
            data=f"date,time,pain\r\n13/03/2026,08:00 AM,3\r\n13/03/2026,{clock},4\r\n".encode(),
            errors=frozenset({code}),
        )
    yield Case(
        file="trap-half-day-missing.csv",
        says="8:05 among times with AM and PM",
        data=b"date,time,pain\r\n13/03/2026,08:00 AM,3\r\n13/03/2026,8:05,4\r\n",
        errors=frozenset({"time-half-day-missing"}),
    )
    yield Case(
        file="trap-seconds-from-libreoffice.csv",
        says="08:00:00 AM, as LibreOffice writes times",
        data=b"date,time,pain\r\n13/03/2026,08:00:00 AM,3\r\n13/03/2026,12:15:00 AM,4\r\n",
        symptoms=[
            ("2026-03-13T00:15", "pain", "4", "", ""), ("2026-03-13T08:00", "pain", "3", "", ""),
        ],
    )  # fmt: skip
    yield Case(
        file="trap-decimal-score.csv",
        says="scores are whole; 7,5 is not rounded",
        data=b"Datum;Uhrzeit;Schmerzen\r\n13.03.2026;08:00;7,5\r\n",
        errors=frozenset({"score-not-whole"}),
    )
    yield Case(
        file="trap-whole-score-with-decimals.csv",
        says="7,0 is whole",
        data=b"Datum;Uhrzeit;Schmerzen\r\n13.03.2026;08:00;7,0\r\n",
        symptoms=[("2026-03-13T08:00", "pain", "7", "", "")],
    )
    yield Case(
        file="trap-score-turned-date.csv",
        says="a spreadsheet took 3-4 for the third of April",
        data=(PLAIN + "2026-03-13T08:00,pain,03-Apr\r\n").encode(),
        errors=frozenset({"score-unreadable"}),
    )
    yield Case(
        file="trap-same-name-twice.csv",
        says="two columns of one meaning",
        data=b"time,pain,Abdominal pain\r\n2026-03-13T08:00,3,4\r\n",
        errors=frozenset({"column-twice"}),
    )
    yield Case(
        file="two-exports-pasted-together.csv",
        says="the header once more where the second export begins, line 4",
        data=(PLAIN + ok + "\r\n" + PLAIN + "2026-03-14T08:00,pain,4\r\n").encode(),
        symptoms=[
            ("2026-03-13T08:00", "pain", "3", "", ""), ("2026-03-14T08:00", "pain", "4", "", ""),
        ],
        warnings=frozenset({"header-again"}),
        at=("header-again", 4, None, None),
    )  # fmt: skip
    yield Case(
        file="trap-headerless.csv",
        says="no header at all",
        data=b"13/03/2026,08:00,3\r\n14/03/2026,08:00,4\r\n",
        errors=frozenset({"header-missing"}),
    )


def _clock_changes() -> Iterator[Case]:
    # Europe/London 2026: forward on 29 March at 01:00, back on 25 October at 02:00 (IANA tzdata)
    rows = "2026-03-29T00:59,pain,1\r\n2026-03-29T01:30,pain,2\r\n2026-03-29T02:00,pain,3\r\n"
    yield Case(
        file="clock-forward.csv",
        says="half past one does not exist in the night of the change",
        data=(PLAIN + rows).encode(),
        told={"timezone": "Europe/London"},
        errors=frozenset({"time-skipped"}),
        at=("time-skipped", 3, "time", "2026-03-29T01:30"),
    )
    yield Case(
        file="clock-forward.csv",
        says="without a time zone nobody can know",
        symptoms=[
            (f"2026-03-29T{clock}", "pain", score, "", "")
            for clock, score in (("00:59", "1"), ("01:30", "2"), ("02:00", "3"))
        ],
    )
    yield Case(
        file="clock-back.csv",
        says="half past one comes twice",
        data=(PLAIN + "2026-10-25T01:30,pain,2\r\n2026-10-25T02:00,pain,3\r\n").encode(),
        told={"timezone": "Europe/London"},
        symptoms=[
            ("2026-10-25T01:30", "pain", "2", "", ""), ("2026-10-25T02:00", "pain", "3", "", ""),
        ],
        warnings=frozenset({"time-twice"}),
    )  # fmt: skip
