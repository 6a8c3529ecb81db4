from __future__ import annotations

import io
import os
import subprocess
import sys
import zipfile

import pytest

from challenge.errors import ChallengeError
from challenge.files.bundle import bundle


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "elder"
    (made / "imports" / "0001").mkdir(parents=True)
    (made / "letters").mkdir()
    for name, content in FILES.items():
        (made / name).write_bytes(content)
    return made


FILES = {
    "plan.csv": b"date,phase\r\n",
    "imports/0001/märz.csv": b"\xff\xfe\0",
    "imports/.lock": b"",
    ".writing-x": b"half",
}


def opened(data):
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        return {
            info.filename: archive.read(info) for info in archive.infolist()
        }, archive.infolist()


def test_everything_but_hidden_files_byte_for_byte(folder):
    held, infos = opened(bundle(folder))
    assert held == {
        "elder/imports/": b"",
        "elder/imports/0001/": b"",
        "elder/imports/0001/märz.csv": FILES["imports/0001/märz.csv"],
        "elder/letters/": b"",
        "elder/plan.csv": FILES["plan.csv"],
    }
    modes = {info.filename: info.external_attr >> 16 & 0o777 for info in infos}
    assert {modes[name] for name in modes if name.endswith("/")} == {0o700}
    assert {modes[name] for name in modes if not name.endswith("/")} == {0o600}


def test_the_same_content_gives_the_same_bytes(folder):
    first = bundle(folder)
    os.utime(folder / "plan.csv", (1, 1))
    assert bundle(folder) == first


def test_it_waits_for_an_import_to_end(folder):
    """Another process holds the folder's lock, adds a file and lets go."""
    script = (
        "import sys, time\n"
        "from pathlib import Path\n"
        "from challenge.files.lock import locked\n"
        "imports = Path(sys.argv[1])\n"
        "with locked(imports / '.lock'):\n"
        "    print('held', flush=True)\n"
        "    time.sleep(1)\n"
        "    (imports / 'last.csv').write_bytes(b'x')\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, str(folder / "imports")], stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline().strip() == b"held"
        assert "elder/imports/last.csv" in opened(bundle(folder))[0]


def test_links_out_of_the_folder_are_not_followed(folder, tmp_path):
    (tmp_path / "secret.txt").write_text("elsewhere")
    (folder / "link.txt").symlink_to(tmp_path / "secret.txt")
    (folder / "away").symlink_to(tmp_path)
    assert not any("secret" in name or "link" in name for name in opened(bundle(folder))[0])
    assert b"elsewhere" not in bundle(folder)


@pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() == 0, reason="the superuser may read everything"
)
def test_a_file_that_cannot_be_read_stops_it(folder):
    (folder / "plan.csv").chmod(0)
    with pytest.raises(ChallengeError, match=r"plan\.csv"):
        bundle(folder)
