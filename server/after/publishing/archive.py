"""The published folder as one zip file, to be unpacked at a host."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

# Equal folders give equal archives: the time inside is the first that a zip file can hold.
_NO_TIME = (1980, 1, 1, 0, 0, 0)


def archive_of(folder: Path) -> bytes:
    """Every file of the folder, in the order of the names."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(path for path in folder.rglob("*") if path.is_file()):
            inside = zipfile.ZipInfo(path.relative_to(folder).as_posix(), _NO_TIME)
            inside.compress_type = zipfile.ZIP_DEFLATED
            inside.external_attr = 0o644 << 16
            archive.writestr(inside, path.read_bytes())
    return packed.getvalue()
