"""What the figures of a bench were measured on, and how they are summed up."""

from __future__ import annotations

import os
import platform
import sys
from pathlib import Path


def machine() -> str:
    """One line: processor, cores, system, Python, and how busy it is."""
    cpu = Path("/proc/cpuinfo")
    lines = cpu.read_text().splitlines() if cpu.exists() else []
    model = next(
        (line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), platform.machine()
    )
    load = os.getloadavg()[0]
    python = sys.version.split()[0]
    return f"{model}, {os.cpu_count()} cores, {platform.system()}, Python {python}, load {load:.1f}"


def percentile(values: list[float], part: float) -> float:
    """The value that ``part`` (0 to 1) of the values do not exceed."""
    ordered = sorted(values)
    return ordered[min(int(part * len(ordered)), len(ordered) - 1)]


def table(head: tuple[str, ...], rows: list[tuple[object, ...]]) -> str:
    """A plain table with aligned columns."""
    cells = [head, *(tuple(str(cell) for cell in row) for row in rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(head))]
    return "\n".join(
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in cells
    )
