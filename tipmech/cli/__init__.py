"""The command line: reads arguments, calls the rooms, prints tables and paths. Nothing is computed here. Floor 7.

Imports of ours stand inside the commands, so that `tipmech --help` does not load numpy, numba or matplotlib.
"""

import errno
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from .. import CAUTION, __version__
from ..checks import InputError
from .scheduler import Device, check_device, check_scheduler

BAD_INPUT = 2
FAILED_CHECK = 1
NO_ROOM = {errno.ENOSPC, errno.EDQUOT}  # no room on the disk, or no more of it for this user

File = Annotated[Path, typer.Argument(help="TOML file in the users' units (mm, mN, gf, degrees).", show_default=False)]
Out = Annotated[Path | None, typer.Option("--out", help="Folder for results (default: results/NAME OF THE FILE).")]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for machines instead of tables.")]
Check = Annotated[bool, typer.Option("--check", help="Read and check the file and the options, then stop.")]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace results that are already there.")]
Workers = Annotated[
    int | None, typer.Option("--workers", min=1, max=512, help="Processes (default: what the file says).")
]
Scheduler = Annotated[
    str | None,
    typer.Option(
        "--scheduler", metavar="ADDRESS", help="Run on Dask's workers: tcp://HOST:PORT, or local (docs/studies.md)."
    ),
]

OnDevice = Annotated[
    Device,
    typer.Option("--device", help="What carries the insertions out: cpu, or a GPU of this machine (docs/gpu.md)."),
]
ChunksAt = Annotated[
    str | None,
    typer.Option(
        "--chunks",
        metavar="URL",
        help="Keep finished parts in an object store or the like: s3://BUCKET/PLACE (docs/studies.md).",
    ),
]


class Group(TyperGroup):
    """Commands whose mistakes in the input end as one sentence on stderr and exit code 2."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except InputError as error:
            typer.echo(str(error), err=True)
        except OSError as error:
            if error.errno in NO_ROOM:
                typer.echo(f"the disk is full ({error.strerror}); allowed: room made, the same again", err=True)
            elif error.filename is not None:
                typer.echo(f"{error.filename}: {error.strerror}; allowed: a path that can be used", err=True)
            else:
                raise
        raise typer.Exit(BAD_INPUT)


app = typer.Typer(
    cls=Group,
    name="tipmech",
    help=f"Mechanics of a guidewire tip at a dissected coronary wall.\n\n{CAUTION}",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def main() -> None:
    """Entry point of the `tipmech` command."""
    app()


def _version(show: bool) -> None:
    if show:
        typer.echo(f"tipmech {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Hold the options of the whole tool; its help text is set above."""


@app.command(epilog=CAUTION)
def wire(
    files: Annotated[list[str], typer.Argument(help="Wire files (TOML) or names of presets.", show_default=False)],
    out: Annotated[Path | None, typer.Option("--out", help="Folder for results (default: results/wire_NAMES).")] = None,
    tip_load_gf: Annotated[
        float | None,
        typer.Option("--tip-load-gf", help="Grind the core of one wire to this tip load (gf) and write it as a file."),
    ] = None,
    posterior: Annotated[
        Path | None, typer.Option("--posterior", help="posterior.parquet of one wire's calibration: figures over it.")
    ] = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Stiffness profile and bench figures of a wire, or of several side by side."""
    from ..files.wire import read_wire

    designs = [read_wire(name) for name in files]
    if check:
        if tip_load_gf is not None or posterior is not None:
            from .wire import check_options

            check_options(designs, files, tip_load_gf, posterior)
        return _checked(files, as_json)
    from .wire import run

    names = "_".join(Path(f).stem for f in files)
    folder = out or Path("results") / f"wire_{names}"[:80]
    return run(designs, files, folder, wanted_gf=tip_load_gf, posterior=posterior, as_json=as_json, overwrite=overwrite)


@app.command(epilog=CAUTION)
def calibrate(
    file: File,
    out: Out = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Scale of a wire's stiffness from your own bench, with its uncertainty, and what to measure next."""
    from ..files.calibration import read_calibration

    asked = read_calibration(file)
    if check:
        return _checked([str(file)], as_json)
    from .calibrate import run

    return run(asked, file, out or _results(file), as_json=as_json, overwrite=overwrite)


@app.command(epilog=CAUTION)
def design(
    file: File,
    out: Out = None,
    posterior: Annotated[
        Path | None,
        typer.Option(
            "--posterior", help="posterior.parquet of this wire's calibration (or [calibration] in the file)."
        ),
    ] = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """What one dimension does, designs with wanted bench figures, tolerance stack-up."""
    from ..files.design_task import read_design_task

    task = read_design_task(file)
    from .design import calibrated, prepare, run

    task = calibrated(task, posterior)
    if check:
        prepare(task)
        return _checked([str(file)], as_json)
    return run(task, out or _results(file), as_json=as_json, overwrite=overwrite)


@app.command(epilog=CAUTION)
def advance(
    file: File,
    out: Out = None,
    gif: Annotated[bool, typer.Option("--gif", help="Draw an animated GIF too.")] = False,
    posterior: Annotated[
        Path | None,
        typer.Option("--posterior", help="posterior.parquet of this wire's calibration: the insertion over it."),
    ] = None,
    draws: Annotated[
        int | None, typer.Option("--draws", min=1, max=512, help="Wires of the posterior that are run (default: 8).")
    ] = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """One insertion: outcome, forces, film strip, section drawing of the tear, animation on request."""
    from ..files.scene import read_case

    asked = read_case(file)
    if draws is not None and posterior is None:
        raise InputError(f"--draws: {draws} given without --posterior; allowed: with the posterior of a calibration")
    if check and posterior is None:
        return _checked([str(file)], as_json, asked.through)
    from ..lab.insertions import DRAWS
    from .advance import run, scale_of

    scale = None if posterior is None else scale_of(asked, posterior)
    if check:
        return _checked([str(file)], as_json, asked.through)
    return run(
        asked, out or _results(file), gif=gif, as_json=as_json, overwrite=overwrite, scale=scale, draws=draws or DRAWS
    )


@app.command(epilog=CAUTION)
def solid(
    record: Annotated[Path, typer.Argument(help="Record of `advance` (.nc).", show_default=False)],
    increment: Annotated[
        int | None, typer.Option("--increment", help="Number of the increment, from 1 (default: the last).")
    ] = None,
    case: Annotated[
        Path | None,
        typer.Option("--case", help="Case file of the insertion: adds the wire's coil, the wall's layers, the views."),
    ] = None,
    out: Annotated[Path | None, typer.Option("--out", help="Folder (default: results/solid_NAME).")] = None,
    picture: Annotated[bool, typer.Option("--picture/--no-picture", help="Draw the PNG too.")] = True,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """A finished insertion in three dimensions: picture (PNG), page that turns (HTML), file for others (glTF)."""
    from .solid import read_solid, run

    asked = read_solid(record, increment, case)
    if check:
        return _checked([str(record)], as_json)
    name = record.resolve().parent.name if record.stem == "record" else record.stem
    folder = out or Path("results") / f"solid_{name}"[:80]
    return run(asked, str(record), folder, picture=picture, as_json=as_json, overwrite=overwrite)


@app.command(epilog=CAUTION)
def animate(
    files: Annotated[
        list[str],
        typer.Argument(
            help="One record (.nc) or two of the same seed; with --bench a wire file or preset.", show_default=False
        ),
    ],
    bench: Annotated[
        str | None, typer.Option("--bench", help="A bench test of a wire instead: tip_load, buckling or whip.")
    ] = None,
    gif: Annotated[bool, typer.Option("--gif", help="A GIF instead of an MP4 (smaller, fewer frames).")] = False,
    speed: Annotated[
        float, typer.Option("--speed", help="Times real time, 0.05 to 50 (of a bench test: times its usual pace).")
    ] = 1.0,
    out: Annotated[Path | None, typer.Option("--out", help="Folder (default: results/animate_NAMES).")] = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """A film of a finished insertion or procedure, of two side by side, or of a bench test (MP4 or GIF)."""
    from .animate import check_asked, film_of, format_of, run
    from .animate_bench import bench_of

    check_asked(files, bench, speed)
    film: Any
    film, facts = film_of([Path(f) for f in files], speed) if bench is None else bench_of(files[0], bench, speed)
    if check:
        return _checked(files, as_json)
    folder = out or Path("results") / f"animate_{'_'.join(_record_name(Path(f)) for f in files)}"[:80]
    return run(film, facts, folder, format_of(gif), as_json=as_json, overwrite=overwrite)


@app.command("map", epilog=CAUTION)
def map_command(
    file: File,
    out: Out = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    device: OnDevice = Device.CPU,
    chunks: ChunksAt = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Entry, curl and extension over tip load x commanded approach angle; a killed map goes on."""
    from ..files.study import check_map

    columns = _columns(file, check_map(file))
    where = check_device(device, scheduler, workers)
    if check:
        return _checked([str(file)], as_json)
    folder = out or _results(file)
    from ..study.store import refuse_foreign
    from .terminal import resumable

    refuse_foreign(folder, "map", overwrite)
    with resumable(folder, overwrite=overwrite, chunks=chunks):
        from .study import run_map_file

        options = {"as_json": as_json, "overwrite": overwrite, "columns": columns}
        run_map_file(file, folder, workers, scheduler=where, **options)


@app.command(epilog=CAUTION)
def threshold(
    file: File,
    out: Out = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    chunks: ChunksAt = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Front resistance at which the tip curls before it drives the front on, over tip load x angle."""
    from ..files.study import check_threshold

    columns = _columns(file, check_threshold(file))
    check_scheduler(scheduler, workers)
    if check:
        return _checked([str(file)], as_json)
    folder = out or _results(file)
    from ..study.store import refuse_foreign
    from .terminal import resumable

    refuse_foreign(folder, "threshold", overwrite)
    with resumable(folder, overwrite=overwrite, chunks=chunks):
        from .study import run_threshold_file

        options = {"as_json": as_json, "overwrite": overwrite, "columns": columns}
        run_threshold_file(file, folder, workers, scheduler=scheduler, **options)


@app.command(epilog=CAUTION)
def attempts(
    file: File,
    out: Out = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    chunks: ChunksAt = None,
    seed: Annotated[int | None, typer.Option("--seed", min=0, help="In place of the file's seed.")] = None,
    samples: Annotated[
        int | None,
        typer.Option(
            "--samples",
            min=1,
            help="Procedures for each wire and angle: the file's scrambles times a power of 2 (default: the file's).",
        ),
    ] = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Attempts to the true lumen under an operator's policy, what they open, forces; wires side by side.

    A study file gives a distribution, a case file one procedure.
    """
    from ..files.attempts import check_attempts

    asked = check_attempts(file, seed=seed, samples=samples)
    check_scheduler(scheduler, workers)
    if asked is not None and scheduler is not None:
        raise InputError(f"--scheduler: {scheduler} given with a case file; allowed: with a study file")
    if asked is not None and chunks is not None:
        raise InputError(f"--chunks: {chunks} given with a case file; allowed: with a study file")
    if check:
        return _checked([str(file)], as_json)
    folder = out or _results(file)
    if asked is not None:
        from .attempts_case import run as run_case

        return run_case(*asked, folder, as_json=as_json, overwrite=overwrite)
    from ..study.store import refuse_foreign
    from .terminal import resumable

    refuse_foreign(folder, "attempts", overwrite)
    with resumable(folder, overwrite=overwrite, chunks=chunks):
        from .attempts import run

        options = {"as_json": as_json, "overwrite": overwrite}
        return run(file, folder, workers, seed=seed, samples=samples, scheduler=scheduler, **options)


@app.command(epilog=CAUTION)
def compare(
    file: File,
    out: Out = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    device: OnDevice = Device.CPU,
    chunks: ChunksAt = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Hypothesis test between designs in the same vessels: differences, trend, equivalence, sample size."""
    from ..files.compare import check_compare

    procedures = check_compare(file).comparison.estimand != "insertion"
    where = check_device(device, scheduler, workers)
    if check:
        return _checked([str(file)], as_json)
    folder = out or _results(file)
    from ..study import run_compare, run_procedures
    from ..study.store import refuse_foreign
    from .terminal import resumable

    kind, roots = ("compare", run_compare.ROOTS) if not procedures else (run_procedures.KIND, run_procedures.ROOTS)
    refuse_foreign(folder, kind, overwrite, roots)
    with resumable(folder, overwrite=overwrite, chunks=chunks):
        from .compare import run

        return run(file, folder, workers, as_json=as_json, overwrite=overwrite, scheduler=where)


@app.command(epilog=CAUTION)
def atlas(
    file: File,
    out: Out = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    device: OnDevice = Device.CPU,
    chunks: ChunksAt = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Where a softer tip lowers entry, where it trades it for curl, where it raises it: signs over ranges of tissue."""
    from ..files.atlas import check_atlas

    check_atlas(file)
    where = check_device(device, scheduler, workers)
    if check:
        return _checked([str(file)], as_json)
    folder = out or _results(file)
    from ..study.run_atlas import ROOTS
    from ..study.store import refuse_foreign
    from .terminal import resumable

    refuse_foreign(folder, "atlas", overwrite, ROOTS)
    with resumable(folder, overwrite=overwrite, chunks=chunks):
        from .atlas import run

        return run(file, folder, workers, as_json=as_json, overwrite=overwrite, scheduler=where)


@app.command(epilog=CAUTION)
def plan(
    file: File,
    workers: Workers = None,
    pilot: Annotated[int, typer.Option("--pilot", min=1, max=1000, help="Runs made to time them.")] = 12,
    as_json: Json = False,
    check: Check = False,
) -> None:
    """What a study of any kind would compute, how long it would take here, how sharp or with what power."""
    from ..files.kind import CHECKS, kind_of

    CHECKS[kind_of(file)](file)
    if check:
        return _checked([str(file)], as_json)
    from .plan import run

    return run(file, workers, pilot, as_json=as_json)


@app.command(epilog=CAUTION)
def sensitivity(
    file: File,
    out: Out = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    device: OnDevice = Device.CPU,
    chunks: ChunksAt = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Which uncertain inputs decide an outcome: Morris' screening and Sobol' indices; a killed study goes on."""
    from ..files.sensitivity import check_sensitivity

    check_sensitivity(file)
    where = check_device(device, scheduler, workers)
    if check:
        return _checked([str(file)], as_json)
    folder = out or _results(file)
    from ..study.run_sensitivity import ROOTS
    from ..study.store import refuse_foreign
    from .terminal import resumable

    refuse_foreign(folder, "sensitivity", overwrite, ROOTS)
    with resumable(folder, overwrite=overwrite, chunks=chunks):
        from .sensitivity import run

        return run(file, folder, workers, as_json=as_json, overwrite=overwrite, scheduler=where)


@app.command(epilog=CAUTION)
def curl(
    file: File,
    out: Out = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    chunks: ChunksAt = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """What a seen curl tells about the channel: sensitivity, specificity, likelihood ratios, ROC, predictive values."""
    from ..files.curl import check_curl

    check_curl(file)
    check_scheduler(scheduler, workers)
    if check:
        return _checked([str(file)], as_json)
    folder = out or _results(file)
    from ..study.run_curl import ROOTS
    from ..study.store import refuse_foreign
    from .terminal import resumable

    refuse_foreign(folder, "curl", overwrite, ROOTS)
    with resumable(folder, overwrite=overwrite, chunks=chunks):
        from .curl import run

        return run(file, folder, workers, as_json=as_json, overwrite=overwrite, scheduler=scheduler)


@app.command(epilog=CAUTION)
def explain(
    file: Annotated[Path, typer.Argument(help="Case file (TOML) or record of `advance` (.nc).", show_default=False)],
    out: Annotated[Path | None, typer.Option("--out", help="Folder (default: results/explain_NAME).")] = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Smallest single change (stiffness, roll, support, friction, front) that would have flipped an outcome."""
    from ..files.asked import read_asked

    asked = read_asked(file)
    if check:
        return _checked([str(file)], as_json)
    from .explain import run

    name = Path(file).resolve().parent.name if file.suffix == ".nc" else file.stem
    folder = out or Path("results") / f"explain_{name}"
    return run(asked.case(), str(file), folder, as_json=as_json, overwrite=overwrite)


@app.command(epilog=CAUTION)
def regime(
    files: Annotated[
        list[Path],
        typer.Argument(help="Folders of finished maps or thresholds, case files, records.", show_default=False),
    ],
    out: Annotated[Path | None, typer.Option("--out", help="Folder (default: results/regime_NAMES).")] = None,
    workers: Annotated[int | None, typer.Option("--workers", min=1, help="Threads (default: 2).")] = None,
    as_json: Json = False,
    check: Check = False,
    overwrite: Overwrite = False,
) -> None:
    """Regime diagram: simulated runs in dimensionless numbers beside the reduced model, and their agreement."""
    from ..files.asked import read_asked

    studies = [f for f in files if f.is_dir()]
    cases = [(str(f), read_asked(f)) for f in files if not f.is_dir()]
    if check:
        from ..study.overlay import check_study

        for study in studies:
            check_study(study)
        return _checked([str(f) for f in files], as_json)
    from .regime import run

    folder = out or Path("results") / f"regime_{'_'.join(f.stem for f in files)}"[:80]
    single = [(name, asked.case()) for name, asked in cases]
    return run(studies, single, folder, workers, as_json=as_json, overwrite=overwrite)


@app.command(epilog=CAUTION)
def report(
    folder: Annotated[Path, typer.Argument(help="Folder of a finished study.", show_default=False)],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE.html", help="The page (default: report.html in the folder).")
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="Write it as PDF too (pip install 'tipmech[pdf]').")] = False,
    as_json: Json = False,
    overwrite: Overwrite = False,
) -> None:
    """A finished study as one self-contained page: question, inputs, results, what supports them, how to repeat it."""
    from .report import run

    return run(folder, out, pdf=pdf, as_json=as_json, overwrite=overwrite)


@app.command(epilog=CAUTION)
def schema(
    kinds: Annotated[
        list[str] | None,
        typer.Argument(help="Kinds of files: map, compare, case, wire, ... (default: all).", show_default=False),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder for KIND.json (default: printed, one kind alone).")
    ] = None,
    overwrite: Overwrite = False,
) -> None:
    """JSON Schemas of study, case, wire, calibration and design files, for editors and other programs."""
    from .schema import run

    return run(kinds or [], out, overwrite=overwrite)


@app.command(epilog=CAUTION)
def lab(
    out: Annotated[Path, typer.Option("--out", help="Folder for saved records, the only one that is used.")] = Path(
        "results/lab"
    ),
    host: Annotated[str, typer.Option("--host", help="Address to listen on; any but this one lets others in.")] = (
        "127.0.0.1"
    ),
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port to listen on; 0: any.")] = 8127,
    show: Annotated[bool, typer.Option("--open/--no-open", help="Open it in a browser.")] = True,
) -> None:
    """A page on this machine: push a wire yourself, see the contest of forces while the solver runs."""
    from .lab import run

    return run(out, host, port, show=show)


@app.command(epilog=CAUTION)
def validate(
    as_json: Json = False,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder for validation.json (default: none written).")
    ] = None,
    overwrite: Overwrite = False,
) -> None:
    """Table of checks: computed, reference, error, tolerance, source. Exit code 1 when one fails."""
    from .validate import run

    if not run(out, as_json=as_json, overwrite=overwrite):
        raise typer.Exit(FAILED_CHECK)


def _record_name(file: Path) -> str:
    """A record's folder, for all records have one name; the stem of any other file."""
    return file.resolve().parent.name if file.name == "record.nc" else file.stem


def _results(file: Path) -> Path:
    """Default folder for what comes out of a file."""
    return Path("results") / file.stem


def _columns(file: Path, tables: Any) -> Any:
    """Columns of a study from the posterior that its file names; None, and nothing loaded, where it names none."""
    if tables.wire.posterior is None:
        return None
    from .study_posterior import columns_of

    return columns_of(file, tables)


def _checked(files: list[str], as_json: bool, through: Any = None) -> None:
    """Say that the files passed their checks; through: the line through the points of a case's vessel, if any."""
    more: dict[str, Any] = {}
    rows: list[tuple[str, str]] = []
    if through is not None:
        from .line import line_facts, line_rows

        more, rows = {"line_through_points": line_facts(through)}, line_rows(through)
    if as_json:
        import json

        typer.echo(json.dumps({"checked": files, "ok": True, **more, "caution": CAUTION}))
        return
    for file in files:
        typer.echo(f"{file}: checked, no mistakes found")
    for name, words in rows:
        typer.echo(f"{name}: {words}")
