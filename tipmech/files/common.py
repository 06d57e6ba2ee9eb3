"""Reading TOML strictly, and turning every mistake in it into one sentence. The base of all readers of files.

A reader is a tree of `Model` classes whose field names carry the user's unit (`length_mm`), with a range on every
number (`length_mm: float = Field(gt=0, le=400)`), and a function that turns the loaded model into SI objects:

>>> from pydantic import Field
>>> class Probe(Model):
...     length_mm: float = Field(gt=0, le=400)
>>> # probe = load("probe.toml", Probe)

Checks across fields go in a `model_validator(mode="after")` that raises `FieldError(field, value, allowed)`; checks of
the SI objects (any ValueError) are caught by `named(path)`. Both end as an `InputError` with the file's name in front.
"""

import json
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from math import inf
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Literal, NoReturn, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic.fields import FieldInfo

from ..checks import FieldError, InputError, range_text, shown

__all__ = [
    "Count",
    "FieldError",
    "InputError",
    "Model",
    "Name",
    "Positive",
    "STUDY_FIELDS",
    "fail",
    "load",
    "named",
    "read_toml",
    "validate",
]

STUDY_FIELDS = ("tip_loads_gf", "angles_deg", "scrambles", "sensitivity")  # one of them makes a file a study's
NAMED_FIELDS = 4  # other wrong fields named in a message, so that it stays one readable sentence
LARGEST_FILE = 5_000_000  # bytes; an input file is a page or two, so a larger one is the wrong file

Positive = Annotated[float, Field(gt=0)]
Count = Annotated[int, Field(ge=1)]
Name = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^$]*$")]  # $: figures would set it as formulas


class Model(BaseModel):
    """Base of every table of an input file: strict types, no unknown field, finite numbers, frozen."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


ModelT = TypeVar("ModelT", bound=Model)


def load(path: str | Path, model: type[ModelT]) -> ModelT:
    """Read a TOML file and check it against `model`.

    Raises
    ------
    InputError
        one sentence naming the file, the field, its value and what is allowed
    """
    return validate(path, read_toml(path), model)


def read_toml(path: str | Path) -> dict[str, Any]:
    """Return the tables of a TOML file; a missing, unreadable or non-TOML file is an `InputError`."""
    file = Path(path)
    try:
        if file.is_dir():
            raise InputError(f"{file}: this is a folder; allowed: a TOML file")
        if file.stat().st_size > LARGEST_FILE:
            raise InputError(f"{file}: has {file.stat().st_size} bytes; allowed: a TOML file of at most {LARGEST_FILE}")
        return tomllib.loads(file.read_bytes().decode("utf-8-sig"))  # some editors put a byte-order mark first
    except FileNotFoundError:
        raise InputError(f"{file}: there is no such file; allowed: the path of a TOML file") from None
    except OSError as error:
        raise InputError(f"{file}: cannot be read ({error.strerror}); allowed: a readable TOML file") from None
    except UnicodeDecodeError:
        raise InputError(f"{file}: is not text in UTF-8; allowed: a TOML file") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{file}: is not valid TOML ({str(error)[:120]}); allowed: a TOML file") from None


def validate(path: str | Path, data: dict[str, Any], model: type[ModelT]) -> ModelT:
    """Check tables already read against `model`; `path` names the file in messages.

    The tables go through JSON, because strict validation then still takes an array for a tuple. Validators that read
    another file find `path` in their context.
    """
    try:
        text = json.dumps(data)
    except TypeError:
        raise InputError(
            f"{path}: holds a date or time; allowed: numbers, texts, booleans, arrays and tables"
        ) from None
    try:
        return model.model_validate_json(text, context={"path": Path(path)})
    except ValidationError as error:
        raise InputError(_sentence(path, error, model)) from None


def fail(path: str | Path, field: str, value: Any, allowed: str) -> NoReturn:
    """Raise the `InputError` of one field of a file."""
    raise InputError(f"{path}: field '{field}' is {_said(value)}; allowed: {allowed}")


@contextmanager
def named(path: str | Path, prefix: str = "") -> Iterator[None]:
    """Put the file's name (and a field prefix) in front of any ValueError raised inside, as an `InputError`."""
    try:
        yield
    except InputError:
        raise
    except FieldError as error:
        fail(path, prefix + error.field, error.value, error.allowed)
    except ValueError as error:
        raise InputError(f"{path}: {prefix.rstrip('.')}{': ' if prefix else ''}{error}") from None


def _said(value: Any) -> str:
    """A wrong value in words; TOML has no null, so that None is a field left out."""
    return "missing" if value is None else shown(value)


def _sentence(path: str | Path, error: ValidationError, model: type[Model]) -> str:
    """One sentence for the first mistake, with the names of the other wrong fields.

    An unknown field comes first: it is the likely cause of a missing one beside it.
    """
    mistakes = sorted(error.errors(include_url=False), key=lambda m: m["type"] != "extra_forbidden")
    # a wrong entry makes its array "too short" as well: that is the same mistake
    inside = {m["loc"][:k] for m in mistakes for k, step in enumerate(m["loc"]) if isinstance(step, int)}
    first, *rest = [m for m in mistakes if m["loc"] not in inside]
    place, value, kind = first["loc"], first["input"], first["type"]
    cause = first.get("ctx", {}).get("error")
    if isinstance(cause, FieldError):
        name, value, allowed = _dotted(_blamed(place, cause)), cause.value, cause.allowed
    elif kind == "extra_forbidden":
        name, allowed = _dotted(place), f"no field of this name, only {_fields(model, place[:-1])}"
    elif cause is not None:
        name, allowed = _dotted(place), str(cause)
    else:
        name, allowed = _dotted(place), _allowed(model, place) or first["msg"]
    what = "missing" if kind == "missing" else _said(value)
    subject = f"field '{name}'" if name else "the file"
    return f"{path}: {subject} is {what}; allowed: {allowed}{_others(_field(first), [_field(m) for m in rest])}"


def _field(mistake: Any) -> str:
    """Field of a mistake; an array is one field, whichever of its entries are wrong."""
    place = list(mistake["loc"])
    while len(place) > 1 and isinstance(place[-1], int):
        place.pop()
    cause = mistake.get("ctx", {}).get("error")
    return _dotted(_blamed(tuple(place), cause) if isinstance(cause, FieldError) else tuple(place))


def _blamed(place: tuple[int | str, ...], cause: FieldError) -> tuple[int | str, ...]:
    """Place of the field that a validator of the table at `place` found wrong; without a name the table itself."""
    return (*place, cause.field) if cause.field else place


def _others(first: str, rest: list[str]) -> str:
    """Words for the other wrong fields of a file, at the end of the sentence about the first."""
    names = [name for name in dict.fromkeys(rest) if name and name != first]
    more = f" and {len(names) - NAMED_FIELDS} more" if len(names) > NAMED_FIELDS else ""
    return f" (also wrong: {', '.join(names[:NAMED_FIELDS])}{more})" if names else ""


def _dotted(place: tuple[int | str, ...]) -> str:
    """Field path as the user writes it; array entries counted from 1."""
    text = ""
    for step in place:
        text += f"[{step + 1}]" if isinstance(step, int) else f"{'.' if text else ''}{step}"
    return text


def _walk(model: type[Model], place: tuple[int | str, ...]) -> tuple[Any, list[Any], bool]:
    """Type and constraints of the field at `place`, and whether each step was found."""
    kind: Any = model
    limits: list[Any] = []
    for step in place:
        kind, inner = _strip(kind)
        limits = inner
        if isinstance(step, int):
            arguments = [a for a in get_args(kind) if a is not Ellipsis]
            if not arguments:
                return kind, limits, False
            kind, limits = arguments[min(step, len(arguments) - 1)], []
        elif isinstance(kind, type) and issubclass(kind, BaseModel) and step in kind.model_fields:
            info: FieldInfo = kind.model_fields[step]
            kind, limits = info.annotation, list(info.metadata)
        elif get_origin(kind) is dict:
            kind, limits = get_args(kind)[1], []
        else:
            return kind, limits, False
    kind, inner = _strip(kind)
    return kind, limits + inner, True


def _strip(kind: Any) -> tuple[Any, list[Any]]:
    """Undo Annotated and Optional; return the bare type and its constraints."""
    limits: list[Any] = []
    while True:
        if get_origin(kind) is Annotated:
            kind, *extra = get_args(kind)
            for item in extra:
                limits += item.metadata if isinstance(item, FieldInfo) else [item]
        elif get_origin(kind) in (Union, UnionType):
            inside = [a for a in get_args(kind) if a is not type(None)]
            if len(inside) != 1:
                return kind, limits
            kind = inside[0]
        else:
            return kind, limits


def _fields(model: type[Model], place: tuple[int | str, ...]) -> str:
    """Names of the fields of the table at `place`."""
    kind, _, found = _walk(model, place)
    if found and isinstance(kind, type) and issubclass(kind, BaseModel):
        return ", ".join(kind.model_fields)
    return "the documented ones"


def _allowed(model: type[Model], place: tuple[int | str, ...]) -> str:
    """Words for what the field at `place` may be, from its type and constraints (empty: not known)."""
    kind, limits, found = _walk(model, place)
    return _words(kind, limits) if found else ""


def _words(kind: Any, limits: list[Any]) -> str:
    """Words for one type with its constraints."""
    origin = get_origin(kind)
    if origin is Literal:
        return "one of " + ", ".join(json.dumps(a) for a in get_args(kind))
    if kind is bool:
        return "true or false"
    if kind is float or kind is int:
        text = _number_words(limits)
        return text.replace("a finite number", "a whole number") if kind is int else text
    if kind is str:
        longest = _limit(limits, "max_length", inf)
        return "a text" + (
            f" of {_limit(limits, 'min_length', 0):g} to {longest:g} characters" if longest < inf else ""
        )
    if origin in (tuple, list):
        return _array_words(get_args(kind), limits)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return "a table with " + ", ".join(kind.model_fields)
    return ""


def _array_words(inside: tuple[Any, ...], limits: list[Any]) -> str:
    """Words for an array type."""
    least, most = _limit(limits, "min_length", 0), _limit(limits, "max_length", inf)
    fixed = inside and inside[-1] is not Ellipsis and len(inside) > 1
    size = f"{len(inside)}" if fixed else f"{least:g} to {most:g}" if most < inf else f"at least {least:g}"
    each = _words(*_strip(inside[0])) if inside else ""
    return f"an array of {size} entries" + (f", each {each}" if each else "")


def _number_words(limits: list[Any]) -> str:
    """Words for the range of a number."""
    above, below = _limit(limits, "gt", -inf), _limit(limits, "lt", inf)
    low, high = _limit(limits, "ge", -inf), _limit(limits, "le", inf)
    return range_text(max(above, low), min(below, high), above=above >= low and above > -inf, below=below < high)


def _limit(limits: list[Any], key: str, default: float) -> float:
    """Value of one constraint among the metadata of a field."""
    for item in limits:
        value = getattr(item, key, None)
        if value is not None:
            return float(value)
    return default
