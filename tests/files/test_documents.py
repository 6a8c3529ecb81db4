from __future__ import annotations

import pytest

from challenge.errors import ChallengeError
from challenge.files.documents import write_documents


def test_folders_are_made_and_paths_come_back_in_order(tmp_path):
    wanted = {tmp_path / "a" / "b" / "two": b"2", tmp_path / "one": b"1"}
    assert write_documents(wanted) == list(wanted)
    assert {path: path.read_bytes() for path in wanted} == wanted


def test_all_are_written_or_none(tmp_path):
    new, old = tmp_path / "new", tmp_path / "old"
    old.write_bytes(b"edited")
    with pytest.raises(ChallengeError, match="--force"):
        write_documents({new: b"n", old: b"o"})
    assert not new.exists()
    assert old.read_bytes() == b"edited"
    write_documents({new: b"n", old: b"o"}, force=True)
    assert (new.read_bytes(), old.read_bytes()) == (b"n", b"o")


def test_the_same_content_again_needs_no_force(tmp_path):
    path = tmp_path / "same"
    write_documents({path: b"x"})
    assert write_documents({path: b"x"}) == [path]


def test_a_folder_or_a_file_in_the_way_is_named(tmp_path):
    with pytest.raises(ChallengeError, match="is a folder"):
        write_documents({tmp_path: b"x"}, force=True)
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(ChallengeError, match="file"):
        write_documents({tmp_path / "file" / "letter": b"x"})
