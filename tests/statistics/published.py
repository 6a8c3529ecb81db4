"""Published data sets that several tests share, each with its source."""

from pathlib import Path

import numpy as np

DATA = Path(__file__).parent / "data"

# Student, Biometrika 1908;6:1 (Cushny and Peebles 1905): extra hours of sleep, drug 1 and drug 2.
SLEEP_1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SLEEP_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
SLEEP = [b - a for a, b in zip(SLEEP_1, SLEEP_2, strict=True)]

# Darwin's maize, crossed minus self-fertilised, eighths of an inch: Fisher, Design of Experiments.
DARWIN = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]

# Pratt, JASA 1959;54:655.
PRATT = [0, 2, 3, 4, 6, 7, 8, 9, 11, 14, 15, 17, -18]

# Depression scale before (x) and after (y): Hollander and Wolfe 1973, example 3.1.
DEPRESSION_X = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30]
DEPRESSION_Y = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29]
DEPRESSION = [x - y for x, y in zip(DEPRESSION_X, DEPRESSION_Y, strict=True)]


def numbers(name: str) -> np.ndarray:
    """Return the numbers of a file in the data folder, one row after the other."""
    return np.array((DATA / name).read_text().split("\n", 1)[1].split(), dtype=float)
