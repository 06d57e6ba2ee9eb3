from dataclasses import fields, replace

import numpy as np
import pytest
import xarray
from synthetic import make_case, make_record

from tipmech import CAUTION, __version__
from tipmech.files.wire import read_wire
from tipmech.insertion.record import Record
from tipmech.insertion.record_file import SCALARS, UNITS, case_from_json, case_to_json, load, save
from tipmech.vessel.scene import Centreline
from tipmech.wire.design import profile


def test_every_field_of_a_record_has_a_unit():
    assert {f.name for f in fields(Record)} == {"case", *SCALARS, *UNITS}


def test_round_trip_is_exact(tmp_path):
    record = make_record(Centreline.arc(15e-3, 12e-3, 1.0, 25e-3), azimuth=0.3)
    back = load(save(record, tmp_path / "deep" / "record.nc"))
    for name in UNITS:
        before, after = getattr(record, name), getattr(back, name)
        assert after.dtype == before.dtype, name
        np.testing.assert_array_equal(after, before, err_msg=name)
    assert back.stop == record.stop
    assert np.isnan(back.contact_angle)
    assert back.case.scene == record.case.scene
    assert back.case.moves == record.case.moves
    for name in ("distance", "EI1", "GJ", "mass"):
        np.testing.assert_array_equal(getattr(back.case.profile, name), getattr(record.case.profile, name))
    assert case_to_json(back.case) == case_to_json(record.case)


def test_round_trip_of_a_case_keeps_given_front_force_and_odd_numbers():
    case = make_case()
    scene = replace(case.scene, channel=replace(case.scene.channel, front_force=0.1 + 0.2))
    back = case_from_json(case_to_json(replace(case, scene=scene, seed=2**62 + 1)))
    assert back.scene.channel.front_force == 0.1 + 0.2
    assert back.seed == 2**62 + 1
    assert isinstance(back.scene.support.offset, tuple)


def test_round_trip_of_a_case_keeps_the_wires_laws():
    case = make_case()
    wire = profile(read_wire("very_soft"))
    back = case_from_json(case_to_json(replace(case, profile=wire)))
    assert len(wire.laws) == len(back.profile.laws) == 2
    for one, two in zip(wire.laws, back.profile.laws, strict=True):
        for field in fields(one):
            np.testing.assert_array_equal(getattr(two, field.name), getattr(one, field.name))


def test_file_carries_units_version_and_caution(tmp_path):
    path = save(make_record(), tmp_path / "record.nc")
    with xarray.open_dataset(path, engine="h5netcdf") as data:
        assert {name: data[name].attrs["units"] for name in UNITS} == UNITS
        assert data.attrs["caution"] == CAUTION
        assert data.attrs["tipmech_version"] == __version__


def test_an_existing_record_is_kept_unless_told(tmp_path):
    path = save(make_record(), tmp_path / "record.nc")
    before = path.read_bytes()
    with pytest.raises(FileExistsError, match="overwrite"):
        save(make_record(), path)
    assert path.read_bytes() == before
    save(make_record(azimuth=0.2), path, overwrite=True)
    assert load(path).case.scene.tear.azimuth == 0.2
    assert [p.name for p in tmp_path.iterdir()] == ["record.nc"]


def test_a_failed_write_leaves_nothing(tmp_path):
    broken = replace(make_record(), feed=np.zeros(3))
    with pytest.raises(ValueError, match="increment"):
        save(broken, tmp_path / "record.nc")
    assert list(tmp_path.iterdir()) == []


def test_loading_something_else_is_one_sentence(tmp_path):
    with pytest.raises(FileNotFoundError, match="no such record"):
        load(tmp_path / "none.nc")
    (tmp_path / "text.nc").write_text("not netcdf")
    with pytest.raises(ValueError, match="cannot be read"):
        load(tmp_path / "text.nc")
    xarray.Dataset({"feed": ("x", [1.0])}).to_netcdf(tmp_path / "other.nc", engine="h5netcdf")
    with pytest.raises(ValueError, match="not a tipmech record"):
        load(tmp_path / "other.nc")
