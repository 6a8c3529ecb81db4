"""Encryption in the age format, checked with pyrage and with the independent program ``age``."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pyrage
import pytest

from challenge.errors import ChallengeError
from challenge.files.encrypting import LEAST_LETTERS, for_passphrase, for_recipients

DOCUMENTS = {
    Path("out/letter.pdf"): b"%PDF a letter",
    Path("out/letter.docx"): b"",
    Path("x"): b"a longer text" * 10_000,
}
WORDS = "otter lantern gravel willow tuba"


@pytest.fixture
def keys():
    return [pyrage.x25519.Identity.generate() for _ in range(3)]


def test_each_recipient_opens_every_document_and_nobody_else(keys):
    mine, colleague, stranger = keys
    public = [str(key.to_public()) for key in (mine, colleague)]
    closed = for_recipients(public).encrypted(DOCUMENTS)
    assert [str(path) for path in closed] == ["out/letter.pdf.age", "out/letter.docx.age", "x.age"]
    for (_, plain), data in zip(DOCUMENTS.items(), closed.values(), strict=True):
        assert pyrage.decrypt(data, [mine]) == plain
        assert pyrage.decrypt(data, [colleague]) == plain
        assert not plain or plain not in data
        with pytest.raises(pyrage.DecryptError):
            pyrage.decrypt(data, [stranger])


def test_a_changed_byte_is_noticed(keys):
    encryption = for_recipients([str(keys[0].to_public())])
    data = encryption.encrypted({Path("a"): b"text" * 99})[Path("a.age")]
    for place in (0, len(data) // 2, len(data) - 1):
        broken = bytearray(data)
        broken[place] ^= 1
        with pytest.raises(pyrage.DecryptError):
            pyrage.decrypt(bytes(broken), [keys[0]])


def test_a_passphrase_opens_it_and_no_other_does():
    data = for_passphrase(WORDS).encrypted({Path("a"): b"plain"})[Path("a.age")]
    assert pyrage.passphrase.decrypt(data, WORDS) == b"plain"
    with pytest.raises(pyrage.DecryptError):
        pyrage.passphrase.decrypt(data, WORDS + " ")


def test_a_short_passphrase_is_refused():
    with pytest.raises(ChallengeError, match="words"):
        for_passphrase("x" * (LEAST_LETTERS - 1))


def test_the_passphrase_stands_in_no_picture_of_the_object():
    assert WORDS not in repr(for_passphrase(WORDS))


@pytest.mark.skipif(shutil.which("age") is None, reason="the program age is not installed")
def test_an_independent_program_opens_it(tmp_path):
    """age 1.1.1 of Debian: another implementation of age-encryption.org/v1, in another language."""
    key = tmp_path / "key.txt"
    subprocess.run(["age-keygen", "-o", str(key)], check=True, capture_output=True)
    public = subprocess.run(
        ["age-keygen", "-y", str(key)], check=True, capture_output=True, text=True
    ).stdout.strip()
    plain = bytes(range(256)) * 1000  # more than one chunk of 64 KiB
    closed = tmp_path / "a.age"
    closed.write_bytes(for_recipients([public]).encrypted({Path("a"): plain})[Path("a.age")])
    opened = subprocess.run(
        ["age", "--decrypt", "--identity", str(key), str(closed)], check=True, capture_output=True
    ).stdout
    assert opened == plain


@pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="ssh-keygen is not installed")
def test_keys_from_a_file_with_remarks_and_of_either_kind(keys, tmp_path):
    ssh = tmp_path / "id"
    make = ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", "invented", "-f", str(ssh)]
    subprocess.run(make, check=True)
    file = tmp_path / "practice keys.txt"
    public = str(keys[0].to_public())
    file.write_text(
        f"\ufeff# the practice\n{public}\n\n  {public}\n{ssh.with_suffix('.pub').read_text()}",
        encoding="utf-8",
    )
    encryption = for_recipients([str(file)])
    assert len(encryption.keys) == 2
    data = encryption.encrypted({Path("a"): b"plain"})[Path("a.age")]
    assert pyrage.decrypt(data, [keys[0]]) == b"plain"
    identity = pyrage.ssh.Identity.from_buffer(ssh.read_bytes())
    assert pyrage.decrypt(data, [identity]) == b"plain"


def test_all_that_is_no_public_key_is_told_at_once_and_no_secret_repeated(keys, tmp_path):
    secret = str(keys[0])
    file = tmp_path / "keys.txt"
    file.write_text(f"{keys[1].to_public()}\n{secret}\nage1short\n", encoding="utf-8")
    (tmp_path / "empty.txt").write_text("# nothing\n", encoding="utf-8")
    told = [str(file), "age1", "nobody", str(tmp_path / "empty.txt"), secret.lower(), str(tmp_path)]
    with pytest.raises(ChallengeError) as caught:
        for_recipients(told)
    problems = caught.value.problems
    assert sorted((p.file or "", p.line or 0) for p in problems) == [
        ("", 0),  # age1
        ("", 0),  # nobody
        ("", 0),  # the secret key
        ("", 0),  # a folder
        ("empty.txt", 0),
        ("keys.txt", 2),
        ("keys.txt", 3),
    ]
    shown = " ".join(problem.sentence() for problem in problems)
    assert shown.count("secret key. Give the public key") == 2
    assert secret not in shown
    assert secret.lower() not in shown


def test_without_the_library_a_plain_message(tmp_path):
    code = (
        "import sys; sys.modules['pyrage'] = None\n"
        "from challenge.commands import main\n"
        "sys.argv = ['challenge', 'export', sys.argv[1], '--encrypt', 'age1']\n"
        "main()\n"
    )
    (tmp_path / "elder").mkdir()
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "elder")], capture_output=True, text=True
    )
    assert done.returncode == 1
    assert 'pip install "challenge[encrypt]"' in done.stderr
    assert "Traceback" not in done.stderr
