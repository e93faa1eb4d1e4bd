"""Whether a folder lies on a network share: SQLite's log does not hold there."""

import os
from pathlib import Path

_SHARES = ("nfs", "cifs", "smb", "9p", "fuse.sshfs", "fuse.glusterfs", "ceph", "afs")
_TABLE = Path("/proc/self/mountinfo")


def share_of(directory: Path, table: Path = _TABLE) -> str | None:
    """Return the kind of network share that a folder lies on; None on a disk.

    References
    ----------
    .. [1] SQLite documentation, "Write-Ahead Logging": all processes that use a
       database must be on the same host; WAL does not work over a network filesystem.
    """
    place = os.path.realpath(directory)
    found = ""
    kind = None
    try:
        lines = table.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return None
    for line in lines:
        left, _, right = line.partition(" - ")
        mount = left.split()[4].replace("\\040", " ")
        is_inside = place == mount or place.startswith(mount.rstrip("/") + "/")
        # Of two mounts on one place the later covers the earlier.
        if is_inside and len(mount) >= len(found):
            found, kind = mount, right.split()[0]
    return kind if kind is not None and kind.startswith(_SHARES) else None
