from __future__ import annotations

from pathlib import Path

import pytest

from challenge.errors import ChallengeError
from challenge.files.practice import Practice, read_practice


def write(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_without_a_file_there_are_defaults(tmp_path):
    assert read_practice(tmp_path / "client") == Practice()
    assert Practice().paper == "a4"


def test_the_named_file_beats_the_clients_and_that_beats_the_one_beside_it(tmp_path):
    client = tmp_path / "client"
    client.mkdir()
    beside = write(tmp_path / "practice.toml", 'contact = "beside"')
    assert read_practice(client).contact == "beside"
    write(client / "practice.toml", 'contact = "own"')
    assert read_practice(client).contact == "own"
    assert read_practice(client, beside).contact == "beside"


def test_a_byte_order_mark_and_all_keys_are_read(tmp_path):
    text = (
        '\ufeffletterhead = ["Invented practice", "1 Sample Street"]\nsignature = ["A. Sample"]\n'
        'contact = "x"\nlanguage = "de"\npaper = "us-letter"\nfont_dirs = ["fonts"]\n'
    )
    found = read_practice(tmp_path, write(tmp_path / "mine.toml", text))
    assert found.letterhead == ("Invented practice", "1 Sample Street")
    assert (found.language, found.paper, found.font_dirs) == ("de", "us-letter", (Path("fonts"),))


def test_a_named_file_must_exist(tmp_path):
    with pytest.raises(ChallengeError, match=r"no practice file .*none\.toml"):
        read_practice(tmp_path, tmp_path / "none.toml")


@pytest.mark.parametrize("content", [b"letterhead = [", b"contact = \xff"])
def test_a_file_that_is_no_toml_is_named(tmp_path, content):
    (tmp_path / "practice.toml").write_bytes(content)
    with pytest.raises(ChallengeError, match=r"practice\.toml cannot be read"):
        read_practice(tmp_path)


def test_every_wrong_entry_is_told_at_once(tmp_path):
    write(tmp_path / "practice.toml", 'paper = "a5"\ncolour = "blue"\ncontact = 7\n')
    with pytest.raises(ChallengeError) as caught:
        read_practice(tmp_path)
    assert {p.column for p in caught.value.problems} == {"paper", "colour", "contact"}
    unknown = next(p for p in caught.value.problems if p.column == "colour")
    assert "letterhead" in unknown.message
