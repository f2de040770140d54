"""A folder that is shared or kept alike on several computers is found, and no store is made there."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pollstead.cli.main import run
from pollstead.cli.serve import say_shared
from pollstead.store import folders
from pollstead.store.folders import (
    Computer,
    Marks,
    Mount,
    make_stores_anyway,
    read_marks,
    read_mounts,
    shared_or_synchronized,
)
from pollstead.store.opening import open_store
from pollstead.store.refusal import Refusal

SMALL = Path(__file__).resolve().parents[2] / "small"

# The form of a line, and how a space is written in it: fstab(5) and getmntent(3), from memory.
MOUNTS = """\
/dev/sda1 / ext4 rw,relatime 0 0
tmpfs /tmp tmpfs rw 0 0
server:/export /srv/county\\040files nfs4 rw,vers=4.2 0 0
//server/share /mnt/share cifs rw 0 0
someone@host:/ /mnt/far fuse.remote rw 0 0
/dev/sdb1 /media/stick fuseblk rw 0 0
/dev/sdc1 /mnt/share/local ext4 rw 0 0
host /mnt/host 9p rw 0 0
10.0.0.1:/ /srv/cluster ceph rw 0 0
"""


def computer(
    *,
    mounts: str = MOUNTS,
    drives: dict[str, int] | None = None,
    attributes: dict[str, int] | None = None,
    more: str = "",
) -> Computer:
    """A computer that gives these answers."""
    return Computer(
        mounts=lambda: read_mounts(mounts),
        drive_type=lambda root: (drives or {}).get(root, 3),
        attributes=lambda path: (attributes or {}).get(path.name, 0),
        marks=read_marks(more),
    )


@pytest.mark.parametrize(
    ("path", "sign"),
    [
        ("/srv/county files/larkmoor", "/srv/county files is a network or shared file system (type nfs4)"),
        ("/mnt/share/larkmoor", "(type cifs)"),
        ("/mnt/far", "(type fuse.remote)"),
        ("/mnt/host/a/b", "(type 9p)"),
        ("/srv/cluster/larkmoor", "(type ceph)"),
        ("/mnt/share/local/larkmoor", ""),
        ("/mnt/sharefolder", ""),
        ("/media/stick/larkmoor", ""),
        ("/home/office/larkmoor", ""),
    ],
)
def test_a_network_file_system_is_known_by_its_mount(path: str, sign: str) -> None:
    """The longest mount that holds the folder decides, by its type."""
    found = shared_or_synchronized(Path(path), computer())
    assert [sign in one.english() for one in found] == ([True] if sign else [])


def test_of_two_mounts_on_one_path_the_later_counts() -> None:
    """It hides the earlier one."""
    lines = "a /mnt/x nfs rw 0 0\n/dev/sdb /mnt/x ext4 rw 0 0\n"
    assert shared_or_synchronized(Path("/mnt/x"), computer(mounts=lines)) == ()


@pytest.mark.parametrize("kind", ["fuse.layered", "9p", "virtiofs"])
def test_the_root_of_a_virtual_machine_is_not_a_shared_folder(kind: str) -> None:
    """A machine whose own root is given by a program is on this computer alone."""
    assert shared_or_synchronized(Path("/home/a"), computer(mounts=f"x / {kind} rw 0 0\n")) == ()


@pytest.mark.parametrize(
    ("path", "sign"),
    [
        ("\\\\server\\share\\larkmoor", "path of another computer"),
        ("//server/share/larkmoor", "path of another computer"),
        ("\\\\?\\UNC\\server\\share", "path of another computer"),
        ("Z:\\larkmoor", "Drive Z: is on another computer"),
        ("z:/larkmoor", "Drive Z: is on another computer"),
        ("C:\\larkmoor", ""),
        ("\\\\?\\C:\\larkmoor", ""),
    ],
)
def test_a_path_of_another_computer_is_known_on_windows(path: str, sign: str) -> None:
    """By its two leading backslashes, or by a drive that the system calls remote (GetDriveTypeW gives 4)."""
    remote = {"Z:\\": 4, "z:\\": 4}
    found = folders._network_path(path, computer(drives=remote))
    assert (found is None) if not sign else (found is not None and sign in found.english())


@pytest.mark.parametrize("name", [".sync", ".SYNC", ".sync_4711.db", ".invented-sync", ".cloud"])
def test_a_mark_in_the_folder_or_above_it_is_a_sign(tmp_path: Path, name: str) -> None:
    """It is named with its whole path."""
    folder = tmp_path / "office" / "larkmoor"
    folder.mkdir(parents=True)
    assert shared_or_synchronized(folder, computer()) == ()
    (tmp_path / "office" / name).mkdir()
    (sign,) = shared_or_synchronized(folder, computer())
    assert str(tmp_path / "office" / name) in sign.english()
    (again,) = shared_or_synchronized(folder / "not" / "yet", computer())
    assert again == sign


@pytest.mark.parametrize(
    "name",
    [
        "sites (conflict 2).csv",
        "sites.sync-conflict-1.csv",
        "sites (Ida's conflict copy).csv",
        "sites_conflict-2.csv",
    ],
)
def test_a_file_that_two_computers_changed_is_a_sign(tmp_path: Path, name: str) -> None:
    """Such a second copy comes from a program that keeps folders alike."""
    (tmp_path / name).write_text("a", encoding="utf-8")
    (sign,) = shared_or_synchronized(tmp_path, computer())
    assert name in sign.english()


def test_what_the_system_fetches_from_elsewhere_is_a_sign(tmp_path: Path) -> None:
    """The attribute for recall on data access (0x00400000 in winnt.h, from memory), on a folder above."""
    folder = tmp_path / "kept" / "larkmoor"
    folder.mkdir(parents=True)
    (sign,) = shared_or_synchronized(folder, computer(attributes={"kept": 0x0040_0010}))
    assert str(tmp_path / "kept") in sign.english()


@pytest.mark.parametrize(
    "name", [".git", ".cache", ".rsync-filter", "sync", "St. Cloud", "Larkmoor conflicts.csv", ".synced"]
)
def test_ordinary_names_are_no_sign(tmp_path: Path, name: str) -> None:
    """A place called after a cloud, or a folder of another tool, holds nobody up."""
    folder = tmp_path / name / "larkmoor"
    folder.mkdir(parents=True)
    assert shared_or_synchronized(folder, computer()) == ()
    assert shared_or_synchronized(tmp_path, computer()) == ()


def test_a_label_that_a_synchronizing_program_left_is_a_sign(tmp_path: Path) -> None:
    """An extended attribute (xattr(7), from memory) of the user space, on a folder above; others are none."""
    folder = tmp_path / "kept" / "larkmoor"
    folder.mkdir(parents=True)
    labels = {"kept": ("security.selinux", "user.invented.SyncRoot"), "larkmoor": ("user.comment",)}
    around = Computer(mounts=lambda: (), labels=lambda path: labels.get(path.name, ()))
    (sign,) = shared_or_synchronized(folder, around)
    assert "user.invented.SyncRoot" in sign.english() and str(tmp_path / "kept") in sign.english()
    around = Computer(mounts=lambda: (), labels=lambda path: ("security.sync", "user.comment"))
    assert shared_or_synchronized(folder, around) == ()


def test_places_where_sticks_are_put_are_proposed_for_copies() -> None:
    """What is mounted below the folders for it, the network's share among them: a copy may go there."""
    assert folders.second_places(read_mounts(MOUNTS)) == (
        "/media/stick",
        "/mnt/far",
        "/mnt/host",
        "/mnt/share",
        "/mnt/share/local",
    )


def test_an_office_adds_the_mark_of_its_own_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By the environment variable, with or without a leading dot."""
    (tmp_path / "KeptAlike.marker").write_text("", encoding="utf-8")
    assert shared_or_synchronized(tmp_path, computer()) == ()
    monkeypatch.setenv(folders.MARKS_VARIABLE, " keptalike.* ;")
    assert len(shared_or_synchronized(tmp_path, Computer(mounts=lambda: ()))) == 1
    assert Computer(marks=Marks(hidden=(), copies=())).marks.hidden == ()


def test_no_store_is_made_in_a_shared_folder_unless_told_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The refusal names the sign and leaves no file; a store that is there already opens."""
    monkeypatch.setattr(folders, "_mounts_here", lambda: (Mount(point=str(tmp_path), kind="nfs4"),))
    with pytest.raises(Refusal, match=r"backup FOLDER TO(.|\n)*\(type nfs4\)"):
        open_store(tmp_path)
    assert list(tmp_path.iterdir()) == []
    make_stores_anyway(True)
    try:
        open_store(tmp_path).close()
    finally:
        make_stores_anyway(False)
    open_store(tmp_path).close()


def test_the_command_line_takes_anyway_with_every_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without it 1 and the reason; with it the command goes on and takes the record in."""
    (tmp_path / ".sync").mkdir()
    source = Path(__file__).parents[1] / "events" / "v1"
    assert run(["record", "import", str(tmp_path), str(source)]) == 1
    assert "shared or synchronized" in capsys.readouterr().err
    assert not (tmp_path / "pollstead.db").exists()
    assert run(["record", "--anyway", "import", str(tmp_path), str(source)]) == 0
    assert "shared or synchronized" not in capsys.readouterr().err
    assert (tmp_path / "pollstead.db").exists()


def test_a_plan_and_the_app_say_that_a_folder_is_shared(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Planning would make the first store and is refused with 1; the app warns of a store that is there."""
    county = tmp_path / "county"
    shutil.copytree(SMALL, county)
    open_store(county).close()
    say_shared(county)
    assert capsys.readouterr().err == ""
    (tmp_path / ".sync").mkdir()
    say_shared(county)
    assert str(tmp_path / ".sync") in capsys.readouterr().err
    (county / "pollstead.db").unlink()
    say_shared(county)
    assert capsys.readouterr().err == ""
    assert run(["plan", str(county)]) == 1
    said = capsys.readouterr().err
    assert "shared or synchronized" in said and str(tmp_path / ".sync") in said
    assert not (county / "pollstead.db").exists()
