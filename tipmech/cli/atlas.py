"""`tipmech atlas`: run the sign atlas with progress, fit its surfaces, draw them, print the shares."""

from pathlib import Path

from typer import echo

from ..checks import InputError
from ..files.atlas import read_atlas
from ..show.atlas import atlas_figure, reliability_figure
from ..show.style import save
from ..study.atlas import SIGN_WORDS, Sign, atlas_of
from ..study.atlas_tables import no_news, reliability_table, share_table
from ..study.execute import Progress
from ..study.run_atlas import run_atlas
from ..study.store import read_store
from ..study.uncertainty import uncertainty_text
from ..units import from_si
from .scheduler import workers_of
from .terminal import finish, print_json, print_table, progress


def run(file: Path, out: Path, workers: int | None, *, as_json: bool, overwrite: bool, scheduler: str | None) -> None:
    """Atlas of a study file."""
    with progress("wires: tip-load bench", quiet=as_json):
        spec = read_atlas(file)
    asked = workers or spec.study.workers
    with workers_of(scheduler, asked) as found, progress("atlas", quiet=as_json) as report:

        def on_progress(state: Progress) -> None:
            report(state.done, state.total)

        result = run_atlas(spec, out, found, overwrite, on_progress)
    with progress("surfaces", quiet=as_json):
        try:
            atlas = atlas_of(result)
        except ValueError as error:
            allowed = "ranges in which it happens with both designs (all insertions made are kept)"
            raise InputError(f"{file}: {error}; allowed: {allowed}") from None
        told = reliability_table(atlas)
        tables = {"shares": share_table(atlas), "reliability": told}
    store = read_store(out)
    for name, table in tables.items():
        store.put_table(name, table)
    paths = [
        save(atlas_figure(atlas, uncertainty_text(code=result.manifest["code"])), out / "atlas.png"),
        save(reliability_figure(atlas), out / "calibration.png"),
    ]
    paths += [*(out / f"{name}.{end}" for name in ("rows", *tables) for end in ("csv", "parquet"))]
    paths.append(out / "manifest.json")
    if as_json:
        more = {"not_solved": atlas.not_solved, "band_in_standard_errors": atlas.quantile, "no_news": no_news(told)}
        print_json({"manifest": result.manifest, **tables, **more, "files": paths})
        return
    loads = [from_si(v, "gf") for v in spec.study.tip_loads]
    title = "\n".join(
        (
            f"{spec.name}: {loads[0]:.3g} gf beside {loads[1]:.3g} gf, share of the volume of its axes",
            f"{spec.sites} sites, {len(result.rows['arm'])} insertions, {atlas.not_solved} not solved",
            f"band of {1.0 - spec.level:.0%} for all places at once: {atlas.quantile:.1f} standard errors either way",
        )
    )
    shares = tables["shares"]
    rows = [
        (str(front), *(f"{float(shares[SIGN_WORDS[s].replace(' ', '_')][k]):.0%}" for s in Sign))
        for k, front in enumerate(shares["front_shape"])
    ]
    print_table(title, ("front", *(SIGN_WORDS[s] for s in Sign)), rows, numbers=True)
    if no_news(told):
        echo(no_news(told))
    finish(paths)
