"""``--encrypt``: what leaves the machine opens for its recipient, and was nowhere in the clear."""

from __future__ import annotations

import io
import json
import stat
import subprocess
import sys
import zipfile
from pathlib import Path

import pyrage
import pytest
import typer

from challenge.commands import encryption
from tests.commands.folders import contents, run, sample

ROOT = Path(__file__).parents[2]


@pytest.fixture
def key():
    return pyrage.x25519.Identity.generate()


@pytest.fixture
def challenge(monkeypatch, capsys):
    return lambda *args, **more: run(monkeypatch, capsys, *args, **more)


def test_a_folder_comes_back_whole(challenge, key, tmp_path):
    folder = sample(tmp_path)
    code, out, err = challenge("export", folder, "--encrypt", key.to_public(), "--json")
    assert (code, err) == (0, "")
    file = Path(json.loads(out)["file"])
    assert file == tmp_path / "rowan-2026-11-25.zip.age"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    with zipfile.ZipFile(io.BytesIO(pyrage.decrypt(file.read_bytes(), [key]))) as archive:
        archive.extractall(tmp_path / "back")
    assert contents(tmp_path / "back" / "rowan") == contents(folder)


def test_without_a_recipient_nothing_is_written(challenge, tmp_path):
    folder = sample(tmp_path)
    before = contents(tmp_path)
    code, _, err = challenge("export", folder)
    assert code == 2
    assert "--encrypt" in err
    code, _, err = challenge("export", folder, "--encrypt", "age1wrong")
    assert code == 1
    assert contents(tmp_path) == before


def test_letters_are_written_encrypted_only(challenge, key, tmp_path):
    folder = sample(tmp_path)
    code, out, _ = challenge(
        "letter", folder, "--to", "client", "--name", "Sam Sample", "--encrypt", key.to_public()
    )
    assert code == 0
    files = [Path(line) for line in out.split()]
    assert sorted(path.name for path in (folder / "letters").iterdir()) == sorted(
        path.name for path in files
    )
    kinds = {path.suffixes[-2]: pyrage.decrypt(path.read_bytes(), [key]) for path in files}
    assert kinds[".pdf"].startswith(b"%PDF")
    assert zipfile.ZipFile(io.BytesIO(kinds[".docx"])).testzip() is None
    assert all(path.suffix == ".age" for path in files)


WATCHED = """
import sys
written = []
def watch(event, args):
    if event == "open" and isinstance(args[0], (str, bytes)) and (
        (isinstance(args[1], str) and set(args[1]) & set("wax+")) or (args[2] or 0) & 3
    ):
        written.append(str(args[0]))
sys.addaudithook(watch)
from challenge.commands import main
try:
    main()
finally:
    print("WRITTEN", *written, sep="\\n")
"""


def test_a_report_is_written_encrypted_only(challenge, key, tmp_path):
    folder = sample(tmp_path)
    code, out, _ = challenge("report", folder, "--encrypt", key.to_public())
    assert code == 0
    assert not (folder / "report.html").exists()
    file = folder / "report.html.age"
    assert out.strip() == str(file)
    assert b"<!doctype html>" in pyrage.decrypt(file.read_bytes(), [key])


@pytest.mark.parametrize("command", [["letter", "--to", "client", "--name", ""], ["export"]])
def test_nothing_is_written_in_the_clear_in_between(command, key, tmp_path):
    """Every file that Python opens for writing is the encrypted one, under its passing name."""
    folder = sample(tmp_path)
    out = tmp_path / "out"
    name, *options = command
    words = [name, str(folder), *options, "--encrypt", str(key.to_public()), "--out", str(out)]
    done = subprocess.run(
        [sys.executable, "-B", "-c", WATCHED, *words],
        cwd=ROOT, check=True, capture_output=True, text=True,
    )  # fmt: skip
    opened = [Path(path) for path in done.stdout.split("WRITTEN\n")[1].split()]
    assert len(opened) == (2 if name == "letter" else 1)
    assert all(
        Path(path).parent == out and Path(path).name.startswith(".writing-") for path in opened
    )
    assert all(path.name.endswith(".age") for path in out.iterdir())


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_passphrase_is_asked_for_twice_and_never_shown(challenge, monkeypatch, tmp_path):
    folder = sample(tmp_path)
    asked = []

    def prompt(text, **how):
        asked.append(how)
        return "otter lantern gravel willow tuba"

    monkeypatch.setattr(typer, "prompt", prompt)
    monkeypatch.setattr(encryption.sys, "stdin", Terminal())
    code, out, err = challenge("export", folder, "--encrypt", "passphrase")
    assert code == 0
    assert asked == [{"hide_input": True, "confirmation_prompt": True, "err": True}]
    assert "otter" not in out + err
    data = Path(out.strip()).read_bytes()
    assert pyrage.passphrase.decrypt(data, "otter lantern gravel willow tuba").startswith(b"PK")


def test_a_passphrase_needs_a_terminal_and_stands_alone(challenge, key, monkeypatch, tmp_path):
    folder = sample(tmp_path)
    monkeypatch.setattr(encryption.sys, "stdin", io.StringIO("a passphrase sent by a pipe\n"))
    code, _, err = challenge("export", folder, "--encrypt", "passphrase")
    assert code == 1
    assert "terminal" in err
    code, _, _ = challenge(
        "export", folder, "--encrypt", "passphrase", "--encrypt", key.to_public()
    )
    assert code == 2
