"""The report is the same bytes in another process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

SAMPLE = Path(__file__).parents[2] / "sample_diaries" / "rowan"


def test_another_run_gives_the_same_bytes(tmp_path):
    """Order of sets, seeds of hashes and the clock must not matter, beyond the date shown."""
    made = []
    for seed in ("1", "2"):
        out = tmp_path / f"{seed}.html"
        subprocess.run(
            [sys.executable, "-m", "challenge", "report", str(SAMPLE), "--out", str(out)],
            env=os.environ | {"PYTHONHASHSEED": seed, "CHALLENGE_NOW": f"2026-06-0{seed}T10:00"},
            check=True,
            capture_output=True,
        )
        made.append(out.read_bytes())
    assert made[0] == made[1]
