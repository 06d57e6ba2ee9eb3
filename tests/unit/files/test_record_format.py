"""A record of another format is refused with a sentence that names its own."""

from collections.abc import Callable
from pathlib import Path

import pytest
import xarray
from synthetic import make_record

from tipmech.checks import InputError
from tipmech.cli.solid import read_solid
from tipmech.files.asked import read_asked
from tipmech.files.record import format_of, read_record
from tipmech.insertion.record_file import FORMAT, save

READERS: tuple[Callable[[Path], object], ...] = (read_record, read_asked, lambda path: read_solid(path, None, None))


@pytest.mark.parametrize("reader", READERS)
def test_its_own_format_is_named(reader: Callable[[Path], object], tmp_path: Path) -> None:
    path = save(make_record(), tmp_path / "now.nc")
    old = xarray.load_dataset(path, engine="h5netcdf")
    old.attrs["format"] = 2
    old.drop_vars("force_lip_along").to_netcdf(tmp_path / "old.nc", engine="h5netcdf")
    with pytest.raises(InputError, match=f"old.nc: not a tipmech record of format {FORMAT}, but of format 2; allowed"):
        reader(tmp_path / "old.nc")
    assert format_of(path) == FORMAT


@pytest.mark.parametrize("reader", READERS)
def test_nothing_is_said_of_a_format_that_is_not_there(reader: Callable[[Path], object], tmp_path: Path) -> None:
    xarray.Dataset({"feed": ("x", [1.0])}).to_netcdf(tmp_path / "other.nc", engine="h5netcdf")
    (tmp_path / "text.nc").write_text("not netcdf")
    with pytest.raises(InputError, match=f"of format {FORMAT}; allowed"):
        reader(tmp_path / "other.nc")
    with pytest.raises(InputError, match="cannot be read") as error:
        reader(tmp_path / "text.nc")
    assert "but of format" not in str(error.value)
