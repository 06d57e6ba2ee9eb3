"""Every study and case file of experiments/ passes its check; every script imports and knows its own options."""

import csv
import importlib
import json
import os
import tomllib
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from curl_record import curl_record
from jsonschema import Draft202012Validator
from matplotlib import colormaps
from matplotlib.colors import to_rgb
from PIL import Image
from synthetic import make_outcome, make_record

import tipmech
from experiments.approach.figure import save_figure as save_approach
from experiments.approach.run import BEHIND, LOADS, VESSELS
from experiments.folding.run import passages, segment_gap
from experiments.peers import ours
from experiments.peers.cases import ACCURACY, CASES, EA, EI, GA, LENGTH, Case
from experiments.peers.code import Attempt, Code, search
from experiments.peers.run import available, line_of, table_text
from experiments.population import Population, insertion, pocket
from experiments.robustness.run import summary_text
from experiments.scenes import draw, refine
from experiments.scenes.population import summary_text as scenes_text
from experiments.scenes.run import insertion as scene_insertion
from experiments.scenes.run import main as scenes_main
from experiments.scenes.run import run as run_scenes
from experiments.scenes.run import shrink
from experiments.scenes.summary import row_of
from experiments.scenes.summary import summary_text as decided_text
from experiments.seen.figure import choose_looks, save_figure
from experiments.seen.measure import AFTER, BEFORE, MM, curl_of, grid_rows, rate_rows
from experiments.seen.summary import interval, is_seen, kappa, share_of
from experiments.seen.summary import summary_text as seen_text
from experiments.stability.run import BEYOND, FOUND, UNSOLVED, shift_of
from experiments.stability.settings import SETTINGS
from experiments.stability.summary import agreement_kappa
from experiments.wall.run import WALL
from tipmech import CAUTION
from tipmech.cli.design import prepare
from tipmech.cli.schema import text_of
from tipmech.files.atlas import check_atlas
from tipmech.files.attempts import check_attempts
from tipmech.files.calibration import read_calibration
from tipmech.files.compare import check_compare
from tipmech.files.curl import check_curl
from tipmech.files.design_task import read_design_task
from tipmech.files.scene import read_case
from tipmech.files.schema import KINDS
from tipmech.files.sensitivity import check_sensitivity
from tipmech.files.study import check_map, check_threshold
from tipmech.files.wire import read_wire
from tipmech.insertion.record_file import load
from tipmech.outcome import LABEL_WORDS, Label, Stop, Where
from tipmech.profile import uniform
from tipmech.show import style
from tipmech.show.decided import decided
from tipmech.show.passage import off_opening, through_flap
from tipmech.show.view import project
from tipmech.study.uncertainty import NOT_MEASURED, uncertainty_text
from tipmech.vessel.build import breach_force, front_strength, lip_rounding
from tipmech.vessel.scene import Plug

FOLDER = Path(tipmech.__file__).parent.parent / "experiments"
FILES = sorted(FOLDER.rglob("*.toml"))
SCHEMAS = FOLDER.parent / "docs" / "schemas"
SCRIPTS = sorted(p for p in FOLDER.rglob("*.py"))


def test_there_are_some() -> None:
    assert len(FILES) >= 4 and len(SCRIPTS) >= 4


CHECKS = {
    "attempts": check_attempts,
    "threshold": check_threshold,
    "curl": check_curl,
    "sensitivity": check_sensitivity,
    "compare": check_compare,
    "atlas": check_atlas,
    "map": check_map,
    "design": lambda path: prepare(read_design_task(path)),
    "calibration": read_calibration,
    "wire": lambda path: read_wire(str(path)),
    "case": read_case,
}


def kind_of(tables: dict) -> str:
    """Kind of file by the tables that only one kind has."""
    if "tip_loads_gf" in tables or "sensitivity" in tables:
        owned = {"comparison": "compare", "policy": "attempts", "ladder": "threshold"}
        owned |= {name: name for name in ("curl", "sensitivity", "atlas")}
        return next((kind for table, kind in owned.items() if table in tables), "map")
    owned = {"vary": "design", "tolerance": "design", "sensitivities": "design", "tip_load": "calibration"}
    return next((kind for table, kind in (owned | {"core": "wire"}).items() if table in tables), "case")


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_every_file_passes_its_check(path: Path) -> None:
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    kind = kind_of(tables)
    CHECKS[kind](path)
    if kind == "case" and "policy" in tables:
        check_attempts(path)


def test_the_published_schemas_are_those_of_the_tables() -> None:
    published = {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in SCHEMAS.glob("*.json")}
    again = "run `tipmech schema --out docs/schemas --overwrite`"
    assert published == {kind: json.loads(text_of(kind)) for kind in KINDS}, again
    for schema in published.values():
        Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_every_file_fits_the_published_schema_that_it_names(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    kind = kind_of(tables)
    schema = json.loads((SCHEMAS / f"{kind}.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(tables)
    for other in set(KINDS) - {kind}:  # and fits no other: the schemas tell files apart
        schema = json.loads((SCHEMAS / f"{other}.json").read_text(encoding="utf-8"))
        assert not Draft202012Validator(schema).is_valid(tables), other
    mark, _, named = text.partition("\n")[0].partition(" ")
    assert mark == "#:schema", f"its first line is '#:schema {os.path.relpath(SCHEMAS / f'{kind}.json', path.parent)}'"
    assert (path.parent / named).resolve() == (SCHEMAS / f"{kind}.json").resolve()


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda p: str(p.relative_to(FOLDER)))
def test_every_script_imports_and_guards_its_main(path: Path) -> None:
    if path.parent.name == "gpu":  # needs the extra, and the page of a GPU says what more
        pytest.importorskip("cupy"), pytest.importorskip("numba_cuda")
    name = ".".join(path.relative_to(FOLDER.parent).with_suffix("").parts)
    module = importlib.import_module(name)
    assert module.__doc__
    if hasattr(module, "main"):
        assert 'if __name__ == "__main__":' in path.read_text(encoding="utf-8")
        with pytest.raises(SystemExit) as stop:
            module.main(["--help"])
        assert stop.value.code == 0


@pytest.mark.parametrize("kind", ["any", "entering"])
def test_a_population_is_the_same_whatever_else_is_drawn(kind: str) -> None:
    few, many = Population(kind, 3, 5), Population(kind, 3, 500)
    for index in (0, 4, 17):
        assert repr(insertion(few, index).scene) == repr(insertion(many, index).scene)
    assert repr(insertion(few, 1).scene) != repr(insertion(few, 2).scene)


def test_a_pocket_case_takes_its_front_force() -> None:
    case_for, scale = pocket(Population("pocket", 3, 1), 0)
    assert scale > 0.0
    assert case_for(0.02).scene.channel.front_force == 0.02
    assert case_for(0.02).scene.start == "pocket"


def test_settings_change_one_thing_each() -> None:
    case = insertion(Population("any", 3, 1), 0)
    for setting in SETTINGS:
        other = setting.change(case)
        assert (other.numerics != case.numerics) == setting.numeric
        assert (repr(other.scene) != repr(case.scene)) == (not setting.numeric)


@pytest.mark.parametrize("true", [0.0007, 0.004, -0.013, 0.17, -0.55])
def test_a_shifted_threshold_is_found(true: float) -> None:
    shift, ended, runs, odd = shift_of(lambda force: force > np.exp(true), 1.0)
    assert (ended, odd) == (FOUND, False)
    assert abs(shift - true) <= 0.003
    assert runs < 20


def test_searches_that_find_nothing_say_so() -> None:
    assert shift_of(lambda force: False, 1.0)[:2] == (0.8, BEYOND)
    assert shift_of(lambda force: True, 1.0)[:2] == (-0.8, BEYOND)
    assert shift_of(lambda force: None, 1.0)[1] == UNSOLVED
    assert shift_of(lambda force: 0.99 < force < 1.02, 1.0)[3], "curls at F*, not above it: not monotone"


def test_kappa_of_known_tables() -> None:
    a = np.array([0] * 50 + [1] * 50)
    assert agreement_kappa(a, a) == (1.0, 1.0)
    assert agreement_kappa(a, 1 - a)[1] == pytest.approx(-1.0)
    b = np.array([0] * 40 + [1] * 10 + [0] * 15 + [1] * 35)
    assert agreement_kappa(a, b) == pytest.approx((0.75, 0.5))  # p_e = 0.5 x 0.55 + 0.5 x 0.45


def test_uncertainty_says_what_it_is_of(tmp_path: Path) -> None:
    assert uncertainty_text(tmp_path / "none.json") == NOT_MEASURED
    numbers = {"words": "x", "numeric": True, "mean": 0.001, "q50": 0.003, "q80": 0.012, "q90": 0.04}
    summary = {
        "code": "1+a",
        "thresholds": {"one_crossing": 104, "settings": {"x": numbers}},
        "outcomes": {"touched_and_solved": 410, "settings": {"x": {"agreement": 0.98, "kappa": 0.95}}},
    }
    path = tmp_path / "s.json"
    path.write_text(__import__("json").dumps(summary), encoding="utf-8")
    text = uncertainty_text(path, "1+a")
    assert "1+a" in text and "0.3/1.2/4.0 %" in text and "0.950" in text
    assert uncertainty_text(path, "2+b").startswith(NOT_MEASURED) and "1+a" in uncertainty_text(path, "2+b")


def test_the_robustness_table_lists_what_failed() -> None:
    n = 4
    rows = {
        "index": np.arange(n),
        "solved": np.array([1, 1, 0, 1]),
        "label": np.array([7, 2, 0, 3]),
        "audit_error": np.array([0.001, 0.02, 0.5, 0.002]),
        "penetration": np.array([0.01, 0.02, 0.01, 0.2]),
        "smooth_viscous": np.full(n, 0.001),
        "seconds": np.full(n, 0.3),
    }
    text = summary_text(rows, "1+a")
    assert "not solved (1), --case: 2" in text
    assert "audit above 1 % (1), --case: 1" in text
    assert "more than 5 % (1), --case: 3" in text
    assert "75.00%" in text


@pytest.mark.parametrize("plane", [False, True])
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_the_rod_reaches_the_accuracy_of_the_peer_comparison(case: Case, plane: bool) -> None:
    """On the meshes given in experiments/peers/README.md, on a stable branch."""
    found = ours.solve(case, {"a": 18, "b": 24, "c": 24}[case.key], parts=8 if case.key == "b" else 1, plane=plane)
    assert found.success, "not converged, or not stable"
    assert case.error(found.tip) <= ACCURACY
    assert 0.0 < found.seconds < found.with_model


def test_the_peer_cases_are_those_of_an_inextensible_elastica() -> None:
    """The steel wire's own stretch and shear stay far below the accuracy asked for."""
    largest = max(abs(force) for case in CASES for leg in case.legs for force in leg) * EI / LENGTH**2
    assert largest / min(EA, GA) < 0.1 * ACCURACY
    assert CASES[0].exact == pytest.approx((1.0 - 0.32894, 0.66996), abs=1e-5)  # Mattiasson 1981
    assert len(CASES[2].on_the_way) == len(CASES[2].legs)
    late = [CASES[2].on_the_way[0], *CASES[2].on_the_way[:-1]]
    assert CASES[2].largest_error(list(CASES[2].on_the_way)) == 0.0 and CASES[2].largest_error(late) > 0.03


def test_a_peer_on_the_wrong_branch_is_counted_not_chosen() -> None:
    """A code that calls the straight column solved, and one that is right only from twelve elements on."""

    def straight(case: Case, elements: int) -> Attempt:
        return Attempt(1e-3, (1.0, 0.0), True)

    def coarse(case: Case, elements: int) -> Attempt:
        off = 0.0 if elements >= 12 else 2.0 * ACCURACY
        return Attempt(1e-3, (case.exact[0] + off, case.exact[1]), True)

    column = CASES[1]
    wrong = search(Code("straight", "1", "2-D", straight, lambda _: [{}], meshes=(4, 8, 16)), column)
    assert (wrong.elements, wrong.attempts, wrong.wrong) == (0, 3, 2)
    right = search(Code("coarse", "1", "2-D", coarse, lambda _: [{}], meshes=(4, 8, 12, 16)), column)
    assert (right.elements, right.error, right.wrong) == (12, 0.0, 0)
    right.measure()
    text = table_text([line_of(right, 1e-3), line_of(wrong, 1e-3)], ["x: could not be imported"], "here")
    assert "accuracy not reached" in text and "x: could not be imported" in text


def test_a_peer_that_is_not_installed_is_named() -> None:
    codes, missing = available()
    named = " ".join(missing) + " ".join(code.name for code in codes).lower()
    for word in ("opensees", "exudyn", "mujoco", "elastica"):
        assert word in named


def test_the_gap_of_segments_is_that_of_the_nearest_points() -> None:
    """Crossing at right angles, end to side, parallel; and against points laid densely on random segments."""
    p = np.array([[[0, 0, 0], [1, 0, 0]], [[0, 0, 0], [1, 0, 0]], [[0, 0, 0], [1, 0, 0]]], dtype=float)
    q = np.array([[[0.5, -1, 2], [0.5, 1, 2]], [[3, 4, 0], [3, 8, 0]], [[0.2, 0, 3], [0.9, 0, 3]]], dtype=float)
    np.testing.assert_allclose(segment_gap(p, q)[1], [2.0, np.hypot(2.0, 4.0), 3.0], atol=1e-12)
    rng = np.random.default_rng(2)
    p, q = rng.normal(size=(50, 2, 3)), rng.normal(size=(50, 2, 3))
    t = np.linspace(0.0, 1.0, 201)[:, None]
    for k in range(50):
        a, b = p[k, 0] + t * (p[k, 1] - p[k, 0]), q[k, 0] + t * (q[k, 1] - q[k, 0])
        dense = np.linalg.norm(a[:, None] - b[None], axis=2).min()
        assert dense - 0.02 <= segment_gap(p, q)[1][k] <= dense + 1e-12


def test_a_limb_that_goes_through_another_between_two_records_is_counted() -> None:
    """Whatever the solver's own watch says, where the wire did not snap."""

    def hairpin(gap: float) -> np.ndarray:
        z = np.linspace(0.0, 6e-3, 31)
        out, back = np.stack([0 * z, 0 * z, z], axis=1), np.stack([0 * z + gap, 0 * z, z[::-1]], axis=1)
        bend = np.array([[0.2e-3, 0.0, 6.5e-3], [0.4e-3, 0.0, 6.5e-3]])
        return np.concatenate([out, bend, back])

    def record(*gaps: float, held: int = 0) -> SimpleNamespace:
        return SimpleNamespace(
            positions=np.stack([hairpin(gap) for gap in gaps]),
            held=np.array([0] + [held] * (len(gaps) - 1)),
            limb_approach=np.full(len(gaps), np.inf),
            case=SimpleNamespace(profile=uniform(5e-8, 60e-3)),
        )

    nearest, through = passages(record(0.6e-3, 0.5e-3, 0.4e-3))
    assert through == 0 and nearest == pytest.approx(0.4e-3 / (2 * 0.178e-3), rel=1e-6)
    assert passages(record(0.4e-3, -0.4e-3))[1] > 10
    assert passages(record(0.4e-3, -0.4e-3, held=5))[1] == 0  # a snap: there the solver's steps tell


def test_looks_at_a_made_up_curl_agree_with_it_across_its_plane_and_not_in_it(tmp_path):
    records = {"curl": curl_record(plane=0.4), "straight": curl_record(turn=1e-6)}
    curls = {name: curl_of(record) for name, record in records.items()}
    assert curls["straight"] is None
    looks = [row for name, record in records.items() for row in grid_rows(name, record, curls[name])]
    across = [r for r in looks if r["set"] == "across"]
    assert [r["name"] for r in across] == ["curl"] and is_seen(across[0])
    assert -MM * BEFORE < across[0]["late_mm"] < MM * AFTER
    assert across[0]["to_normal_deg"] == pytest.approx(0.0, abs=1e-5)
    curled = [r for r in looks if r["name"] == "curl" and r["set"] == "grid"]
    assert {r["group"] for r in curled} == {"curl, false lumen"}
    near = [is_seen(r) for r in curled if r["to_normal_deg"] < 40]
    flat = [is_seen(r) for r in curled if r["to_normal_deg"] > 85]
    assert len(near) > 5 and all(near)
    assert len(flat) > 5 and np.mean(flat) < 0.25  # along the vessel noise on a short line can look like a hook
    straight = [r for r in looks if r["name"] == "straight"]
    assert all(np.isnan(r["first_seen_mm"]) and r["frames_shown_not_curled"] == 0 for r in straight)
    assert not any(r["frames_curled_shown"] + r["frames_curled_not_shown"] for r in straight)
    rates = rate_rows("curl", records["curl"], curls["curl"])
    text = seen_text(looks, rates, 0)
    assert "2 insertions, 0 of them not solved" in text
    assert "not seen from across their own plane either: 0 of 1 curls" in text
    assert [row["name"] for _, row in choose_looks(looks)] == ["curl", "curl"]
    assert save_figure(looks, rates, records, tmp_path / "seen.png").stat().st_size > 20000


def test_kappa_and_its_neighbours_on_counts_worked_by_hand():
    assert kappa(20, 5, 10, 15) == pytest.approx((0.7, 0.4))  # by hand: chance 0.5
    rows = [{"name": name, "hit": hit} for name, hit in (("a", True), ("a", True), ("b", False), ("b", False))]
    assert interval(rows, lambda r: r["hit"]).split(";")[0].strip() == "50% (0%-100%"  # of two insertions, not of four
    assert share_of(rows, lambda r: False) == pytest.approx((0.0, 0.0, 0.6576, 2), abs=1e-3)  # Wilson's, 0 of 2


def test_a_scene_is_carried_out_once_and_told_in_words(tmp_path):
    out = tmp_path / "scenes"
    text = run_scenes(out, ["intact_straight"], gif=False, figures=tmp_path / "figures")
    assert "largest energy audit error" in text and (out / "summary.txt").read_text().strip() == text.strip()
    rows = list(csv.DictReader((out / "outcomes.csv").open()))
    assert [(r["wire"], r["label_words"]) for r in rows] == [("soft", "true lumen"), ("stiff", "true lumen")]
    assert all("nothing to enter" in r["decided_by"] for r in rows)
    soft, stiff = (load(out / "intact_straight" / f"record_{name}.nc").case for name in ("soft", "stiff"))
    assert soft.seed == stiff.seed and stiff.profile.EI1[0] == pytest.approx(10.0 * soft.profile.EI1[0])
    with Image.open(tmp_path / "figures" / "scene_intact_straight.png") as image:
        assert image.width == 1000 and image.info["Comment"] == tipmech.CAUTION
    with pytest.raises(SystemExit) as stop:
        scenes_main(["--out", str(out), "--only", "intact_straight"])
    assert stop.value.code == 2


def test_push_and_pull_at_the_hand_have_a_column_each():
    record = make_record()
    drawn = replace(record, push=np.linspace(12e-3, -34.5e-3, len(record.feed)))
    row = row_of("made up", "soft", 1.0, drawn, replace(make_outcome(), max_push=12e-3))
    titles, units, values = (line.split() for line in decided_text([row]).splitlines()[:3])
    assert titles[-5:] == ["longer", "opened", "push", "pull", "tip"] and units[-3:] == ["mN", "mN", "mN"]
    assert values[-3:-1] == ["12.0", "34.5"]


def test_the_force_that_decided_is_named():
    record, outcome = curl_record(), make_outcome()
    scene = record.case.scene
    strength = 1e3 * front_strength(scene, 2.0 * float(record.case.profile.radius[0]))
    n = len(record.feed)

    def said(force, extension=0.0, **changes):
        row = replace(record, force_front=np.full(n, force * 1e-3 * strength))
        return decided(row, replace(outcome, extension=extension, **changes))

    assert "not touched" in said(0.0)
    assert f"curled: {0.5 * strength:.1f} of the {strength:.1f} mN" in said(0.5)
    assert "just gave way" in said(1.0, 0.1e-3) and "moved by 0.100 mm" in said(1.0, 0.1e-3)
    assert f"the front gave way at {strength:.1f} mN" in said(1.0, 2e-3)
    assert "stayed out" in said(0.0, where=int(Where.TRUE_LUMEN), entered=float("nan"))
    assert "under the flap and came out again" in said(0.0, where=int(Where.TRUE_LUMEN), entered=3e-3)
    assert decided(replace(record, stop=int(Stop.NOT_CONVERGED)), outcome) == "not solved"
    intact = replace(scene, tear=replace(scene.tear, intact=True, weak_toughness=0.8))
    weak = replace(record, case=replace(record.case, scene=intact))
    assert "stayed below" in decided(weak, replace(outcome, where=int(Where.TRUE_LUMEN)))
    occluded = replace(record, force_plug=np.full(n, 5e-3), plug=np.full(n, 25e-3))
    occluded = replace(occluded, case=replace(record.case, scene=replace(scene, plug=Plug(24e-3, 30e-3, 0.04))))
    assert "5.0 of 40 mN, pushed on by 1.00 mm" in decided(occluded, replace(outcome, where=int(Where.TRUE_LUMEN)))


def test_a_wire_that_passes_through_the_flap_is_counted():
    record = curl_record()
    n, s = len(record.feed), project(record.case.scene, record.positions[-1])[0]
    beyond = np.flatnonzero(s > record.case.scene.tear.end + 1e-3)
    assert len(beyond) > 4 and through_flap(record) == 0
    side = record.side.copy()
    side[-2:, : beyond[2]] = 0
    side[-2:, beyond[2] :] = 2
    assert through_flap(replace(record, side=side)) == 2
    pierced = replace(record, side=side, holes=np.array([[23e-3, 0.0, 1e-4, n - 3.0]]))
    assert through_flap(pierced) == 0


def wall_case(name):
    """Soft and stiff insertion of a case in which the wall gives way."""
    asked = read_case(WALL.folder / f"{name}.toml")
    runs = [scene_insertion(asked, wire, softness) for wire, softness in WALL.wires]
    assert all(run.record.audit_error[-1] < 0.005 for run in runs)
    return runs


def test_a_stiff_hook_drawn_back_opens_the_plane_behind_the_upstream_lip_and_a_soft_one_does_not():
    soft, stiff = wall_case("retrograde")
    strength = front_strength(stiff.record.case.scene, 2.0 * float(stiff.record.case.profile.radius[0]))
    assert strength == pytest.approx(35.0 * 0.23e-3)  # no wedging: theory (23) with l_c = 0
    for run in (soft, stiff):
        assert (run.record.stop, run.record.side[-1, -1]) == (Stop.PROTOCOL_DONE, 4)
        assert run.record.front[-1] == run.record.front[0]
    assert soft.outcome.extension == 0.0 and np.max(soft.record.force_front_back) < 0.5 * strength
    assert 0.3e-3 < stiff.outcome.extension < 0.45e-3
    assert np.max(stiff.record.force_front_back) == pytest.approx(strength, rel=1e-6)
    assert -0.035 < np.min(stiff.record.push) < -0.02
    # the shaft passes the flap where it goes round the lip: rounding and radius, and what the edge's spring gives (18b)
    scene, radius = stiff.record.case.scene, float(stiff.record.case.profile.radius[0])
    spring = 2.0 * np.sqrt(2.0) / 3.0 * scene.wall.youngs_modulus * 2.0 * radius
    assert off_opening(stiff.record) < lip_rounding(scene) + radius - np.min(stiff.record.push) / spring
    assert "gave way at 8.05 mN by 0.43" in decided(stiff.record, stiff.outcome)
    assert "2.87 of the 8.05 mN" in decided(soft.record, soft.outcome)


def test_a_stiff_tip_pierces_the_flap_and_goes_back_to_the_true_lumen_through_its_own_slit():
    soft, stiff = wall_case("reentry")
    assert (soft.outcome.label, len(soft.record.holes)) == (Label.FALSE_LUMEN_NEITHER, 0)
    assert (stiff.outcome.label, stiff.record.stop) == (Label.REENTERED, Stop.PROTOCOL_DONE)
    assert stiff.record.side[-1, -1] == 0 and 2 in stiff.record.side[-1]
    record, wall = stiff.record, stiff.record.case.scene.wall
    breach = breach_force(wall.breach_toughness, 2.0 * record.case.profile.tip_radius)
    assert breach == pytest.approx(11.18e-3, rel=1e-3)
    first = int(record.holes[0, 3])
    assert record.tip_force[first] >= breach > np.max(record.tip_force[:first])
    assert np.max(record.force_front) == 0.0
    assert off_opening(record) < float(record.case.profile.radius[0])
    assert "the flap gave way at 11.2 mN" in decided(record, stiff.outcome)
    through = replace(record, holes=record.holes + np.array([1e-3, 0.0, 0.0, 0.0]))
    assert off_opening(through) > 0.8e-3  # of a wire that passes elsewhere it is told


def test_a_stiff_tip_held_square_to_it_pierces_the_outer_wall_and_a_soft_one_slips_off():
    soft, stiff = wall_case("perforation")
    assert (soft.outcome.label, soft.record.stop) == (Label.FALSE_LUMEN_NEITHER, Stop.PROTOCOL_DONE)
    assert (stiff.outcome.label, stiff.record.stop) == (Label.THROUGH_OUTER_WALL, Stop.OUTER_WALL_PIERCED)
    breach = breach_force(290.0, 0.23e-3)
    force = stiff.record.tip_force
    assert force[-1] >= breach > np.max(force[:-1])
    assert soft.outcome.max_tip_force < 0.25 * breach
    assert stiff.record.side[-1, -1] == 1  # in the window
    assert "the outer wall gave way at 210 mN" in decided(stiff.record, stiff.outcome)


def test_a_random_scene_is_the_same_again_and_reads_back_from_its_case_file(tmp_path: Path) -> None:
    for index in range(len(draw.SCENES)):
        drawn = draw.insertion(index)
        assert drawn.scene == draw.SCENES[index]
        path = tmp_path / f"{index}.toml"
        path.write_text(draw.toml_text(drawn.tables), encoding="utf-8")
        assert repr(read_case(path).case) == repr(drawn.case) == repr(draw.insertion(index).case)
    assert repr(draw.insertion(0).case) != repr(draw.insertion(len(draw.SCENES)).case)


def scene_rows(n: int) -> dict[str, np.ndarray]:
    rows = {name: np.zeros(n) for name in ("refused", "curled", "touched", "stop", "seconds")}
    return rows | {
        "index": np.arange(n),
        "scene": np.arange(n) % 2,
        "solved": np.array([1, 1, 0, 1]),
        "label": np.array([7, 2, 0, 3]),
        "class": np.array([0, 1, -1, 2]),
        "audit_error": np.array([0.001, 0.02, 0.5, 0.002]),
    }


def test_the_table_of_the_scenes_names_what_failed() -> None:
    text = scenes_text(scene_rows(4), "1+a")
    assert f"not solved before any curl (1), --case:\n  {draw.SCENES[0]}: 2" in text
    assert f"audit above 1 % (1), --case:\n  {draw.SCENES[1]}: 1" in text
    assert "pooled                   4   75.00%   75.00%   66.67%" in text


def test_insertions_that_touched_are_compared_first_and_unsolved_ones_never() -> None:
    rows = scene_rows(4) | {"touched": np.array([0, 0, 1, 1])}
    picks = refine.picked(rows, 1)
    assert picks[:2] == ((0,), (3,))
    assert refine.picked(rows, 2)[:2] == ((0,), (3, 1))


def test_the_figure_of_the_approach_tells_outcomes_apart_in_grey(tmp_path):
    common = [Label.FALSE_LUMEN_EXTENDED, Label.FALSE_LUMEN_CURLED, Label.FALSE_LUMEN_NEITHER]
    common += [Label.TRUE_LUMEN_CURLED_OR_BUCKLED, Label.TRUE_LUMEN]
    chosen = [
        {"vessel": vessel, "tip_load_gf": load, "behind_mm": behind}
        for vessel in VESSELS for load in LOADS for behind in BEHIND
    ]  # fmt: skip
    push = {"push_before_mn": 1.0, "push_at_front_mn": 4.0, "front_mn": 2.0, "extension_mm": 0.6}
    rows = [one | push | {"label": LABEL_WORDS[label]} for one in chosen for label in common]
    path = save_approach(rows, [one | {"lag_range_deg": 10.0} for one in chosen], tmp_path / "approach.png")
    with Image.open(path) as image:
        grey = np.asarray(image.convert("L"))
    assert grey.shape[1] > 1000
    fills = [style.label_look(label) for label in common]
    assert len({look["hatch"] for look in fills}) == len(common)
    lightness = sorted(float(np.dot(to_rgb(look["facecolor"]), style.LUMA)) for look in fills)
    assert np.diff(lightness).min() > 0.04


def test_a_small_picture_keeps_its_colours(tmp_path):
    page = np.full((900, 1500, 3), 245, dtype=np.uint8)
    page[:600] = np.linspace((180, 87, 75), (230, 207, 196), 1500).astype(np.uint8)  # much of one hue
    shades = (255.0 * colormaps[style.WIRE_CMAP](np.linspace(0.0, 1.0, 1500))[:, :3]).astype(np.uint8)
    page[700:712] = shades  # and a thin line with the scale of the strain
    Image.fromarray(page).save(tmp_path / "page.png")
    shrink(tmp_path / "page.png", tmp_path / "small.png")
    with Image.open(tmp_path / "small.png") as small:
        assert small.size == (1000, 600) and small.info["Comment"] == CAUTION
        line = np.asarray(small.convert("RGB"))[470].astype(int)
    assert np.abs(line - shades[::3][np.round(np.linspace(0, 499, 1000)).astype(int)]).max() < 25
