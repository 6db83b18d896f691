"""``counterfoil import-table``: the Desk's words on a terminal, and nothing half written."""

from __future__ import annotations

from pathlib import Path

import pytest

from counterfoil.cli import main

Said = pytest.CaptureFixture[str]


def run(folder: Path, table: str, *options: str) -> int:
    """The command's exit code for a table, over the data of ``folder``."""
    file = folder / "stores.csv"
    file.write_text(table)
    return main(["import-table", str(file), *options, "--data", str(folder / "data")])


def test_a_dry_run_tells_every_fate_and_writes_nothing(tmp_path: Path, capsys: Said) -> None:
    table = "id,name\nalder,Alder Row Grocers\nbad id,x\n"
    assert run(tmp_path, table, "--kind", "store", "--dry-run") == 0
    said = capsys.readouterr().out
    assert "row 2: new: store Alder Row Grocers" in said
    assert "id: found bad id; mend: letters, digits" in said
    assert said.endswith("1 refused, 0 changed, 1 new, 0 same. Nothing was written.\n")
    assert run(tmp_path, table, "--kind", "store", "--dry-run") == 0
    assert "1 new" in capsys.readouterr().out


def test_a_refused_row_keeps_the_whole_file_out_and_is_told_by_row_and_column(
    tmp_path: Path, capsys: Said
) -> None:
    table = "id,name\nalder,Alder Row Grocers\nbad id,x\n"
    assert run(tmp_path, table) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "stores.csv: row 3, id: found bad id; mend: letters" in said.err
    assert run(tmp_path, table, "--leave-out-refused") == 0
    assert "Written as change 1, which the Desk can take back." in capsys.readouterr().out


def test_a_change_is_told_from_what_to_what_and_the_same_again_is_nothing_to_write(
    tmp_path: Path, capsys: Said
) -> None:
    run(tmp_path, "id,name\nalder,Alder Row Grocers\n")
    changed = "id,name,region\nalder,Alder Row Grocers,north\n"
    assert run(tmp_path, changed) == 0
    assert "    region: nothing -> north" in capsys.readouterr().out
    assert run(tmp_path, changed) == 0
    assert "1 same. There was nothing to write." in capsys.readouterr().out


def test_a_file_that_is_not_there_is_named(tmp_path: Path, capsys: Said) -> None:
    assert main(["import-table", str(tmp_path / "none.csv"), "--data", str(tmp_path)]) == 2
    assert "none.csv" in capsys.readouterr().err
