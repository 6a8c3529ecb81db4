"""Time of writing a client's letters against that of drawing their figures, in the same run.

Run: python tests/benchmarks/letters.py [CLIENT_FOLDER]. Without a folder it takes the samples.
Letters are that to the client and that to the doctor, each as PDF and .docx; figures are the two
pictures in them, each as SVG and PNG. Imports and the first run of each are left out.
"""

import datetime as dt
import statistics
import sys
import time
from pathlib import Path

from challenge.commands.client import Analysed, load_analysed
from challenge.commands.letter import draw_picture, make_letter
from challenge.files.practice import Practice
from challenge.letter.people import Recipient
from challenge.wording import load_words

SAMPLES = Path(__file__).parents[2] / "sample_diaries"
ROUNDS = 5


def draw(known: Analysed) -> dict:
    words = load_words("en")
    names = ("timeline", "small_multiples")
    return {name: draw_picture(name, known.analysis, words) for name in names}


def write(known: Analysed, pictures: dict) -> None:
    for to in ("client", "doctor"):
        make_letter(
            known.analysis, known.settings, known.decisions, Practice(),
            to=to, recipient=Recipient(name="Sam Sample"), date=dt.date(2026, 5, 4),
            pictures=pictures,
        )  # fmt: skip


def main() -> None:
    given = [Path(name) for name in sys.argv[1:]]
    for folder in given or sorted(path for path in SAMPLES.iterdir() if path.is_dir()):
        known = load_analysed(folder)
        drawing, writing = [], []
        for _ in range(ROUNDS + 1):
            begin = time.perf_counter()
            pictures = draw(known)
            middle = time.perf_counter()
            write(known, pictures)
            drawing.append(middle - begin)
            writing.append(time.perf_counter() - middle)
        figures, letters = statistics.median(drawing[1:]), statistics.median(writing[1:])
        print(
            f"{folder.name}: figures {figures:.3f} s, four letter files {letters:.3f} s, "
            f"ratio letters / figures {letters / figures:.2f}"
        )


if __name__ == "__main__":
    main()
