"""Client folders for tests of commands, and how a command is run inside this process."""

import shutil
import sys
from pathlib import Path

import pytest

from challenge.commands import main

SAMPLES = Path(__file__).parents[2] / "sample_diaries"
NOW = "2026-11-25T09:00"


def sample(folder, name="rowan"):
    return Path(shutil.copytree(SAMPLES / name, folder / name))


def run(monkeypatch, capsys, *args, now=NOW):
    """Run the program as its users do; return exit code, stdout, stderr. A bug stays a bug."""
    monkeypatch.setenv("CHALLENGE_NOW", now)
    monkeypatch.setattr(sys, "argv", ["challenge", *map(str, args)])
    capsys.readouterr()
    with pytest.raises(SystemExit) as left:
        main()
    shown = capsys.readouterr()
    return int(left.value.code or 0), shown.out, shown.err


def flat(text):
    """What was shown, as if on one line: where it was broken is of no matter."""
    return " ".join(text.split())


def contents(folder):
    """Every path below a folder with its bytes."""
    return {
        path.relative_to(folder): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }
