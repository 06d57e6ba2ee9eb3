from pathlib import Path
from typing import Annotated, Literal

import pytest
from pydantic import Field, model_validator

from tipmech.files.common import Count, FieldError, InputError, Model, Name, Positive, fail, load, named


class Part(Model):
    length_mm: Annotated[float, Field(gt=0, le=400)]
    kind: Literal["a", "b"] = "a"
    sizes_mm: tuple[Positive, ...] = (1.0,)
    pair: tuple[float, float] | None = None

    @model_validator(mode="after")
    def _not_seven(self) -> "Part":
        if self.length_mm == 7.0:
            raise FieldError("length_mm", self.length_mm, "not seven")
        return self


class Top(Model):
    name: Name
    n: Count = 1
    flag: bool = False
    share: float = Field(default=0.1, ge=0, lt=1)
    part: tuple[Part, ...] = Field(default=(), max_length=3)
    one: Part | None = None


def written(folder: Path, text: str) -> Path:
    path = folder / "in.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_good_file_is_read(tmp_path: Path) -> None:
    top = load(written(tmp_path, 'name = "x"\nshare = 0\n[[part]]\nlength_mm = 3\npair = [1, 2.5]\n'), Top)
    assert top.part[0].length_mm == 3.0
    assert top.part[0].pair == (1.0, 2.5)


@pytest.mark.parametrize(
    ("text", "field", "value", "allowed"),
    [
        ("", "'name'", "missing", "a text of 1 to 80 characters"),
        ("name = 1", "'name'", "1", "a text"),
        ('name = "a"\nn = 0', "'n'", "0", "a whole number at least 1"),
        ('name = "a"\nn = 1.5', "'n'", "1.5", "a whole number"),
        ('name = "a"\nflag = 1', "'flag'", "1", "true or false"),
        ('name = "a"\nshare = nan', "'share'", "nan", "at least 0 and less than 1"),
        ('name = "a"\nshare = -inf', "'share'", "-inf", "at least 0 and less than 1"),
        ('name = "a"\nshare = true', "'share'", "true", "at least 0 and less than 1"),
        ('name = "a"\nshare = "0.1"', "'share'", "'0.1'", "at least 0 and less than 1"),
        ('name = "a"\nshare = 1', "'share'", "1", "less than 1"),
        (
            'name = "a"\n[[part]]\nlength_mm = 1\n[[part]]\nlength_mm = -1',
            "'part[2].length_mm'",
            "-1",
            "greater than 0",
        ),
        ('name = "a"\n[[part]]\nlenght_mm = 1', "'part[1].lenght_mm'", "1", "only length_mm, kind"),
        ('name = "a"\n[one]\nlength_mm = 1\nsizes_mm = [1, 0]', "'one.sizes_mm[2]'", "0", "greater than 0"),
        ('name = "a"\n[one]\nlength_mm = 1\npair = [1, 0, 2]', "'one.pair'", "[1, 0, 2]", "an array of 2 entries"),
        ('name = "a"\n[one]\nlength_mm = 1\nkind = "c"', "'one.kind'", "'c'", 'one of "a", "b"'),
        ('name = "a"\n[part]\nlength_mm = 1', "'part'", "a table", "an array of 0 to 3 entries"),
        ('name = "a"\none = 3', "'one'", "3", "a table with length_mm"),
        ('name = "a"\n[one]\nlength_mm = 7', "'one.length_mm'", "7", "not seven"),
        ('name = "a"\nfoo = 2', "'foo'", "2", "only name, n, flag"),
    ],
)
def test_one_sentence_names_file_field_value_and_allowed(
    tmp_path: Path, text: str, field: str, value: str, allowed: str
) -> None:
    path = written(tmp_path, text)
    with pytest.raises(InputError) as caught:
        load(path, Top)
    sentence = str(caught.value)
    assert sentence.startswith(f"{path}: field {field} is {value}")
    assert allowed in sentence.split("; allowed: ")[1]
    assert "\n" not in sentence and len(sentence) < 400


@pytest.mark.parametrize("text", ["name =", 'name = "a', "name = 2020-01-01", "[a\nb]"])
def test_what_is_not_toml_or_holds_a_date_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError, match="allowed: "):
        load(written(tmp_path, text), Top)


def test_unreadable_files_are_refused(tmp_path: Path) -> None:
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00\x01")
    for path, words in ((tmp_path, "folder"), (tmp_path / "none.toml", "no such file"), (binary, "UTF-8")):
        with pytest.raises(InputError, match=words):
            load(path, Top)


@pytest.mark.parametrize(
    ("text", "field", "end"),
    [
        ('name = "a"\n[one]\nlength_mm = 1\nsizes_mm = [-1]', "one.sizes_mm[1]", "greater than 0"),
        ('name = "a"\n[one]\nlength_mm = 1\nsizes_mm = [-1, nan]', "one.sizes_mm[1]", "greater than 0"),
        ('name = "a"\nn = 0\n[one]\nlength_mm = 7', "n", "(also wrong: one.length_mm)"),
        ("n = 0\nflag = 1", "name", "(also wrong: n, flag)"),
        ('name = "a"\n[[part]]\nlenght_mm = 1', "part[1].lenght_mm", "(also wrong: part[1].length_mm)"),
        (
            "n = 0\nflag = 1\nshare = 2\n[one]\nlength_mm = 0\nkind = 'c'",
            "name",
            "(also wrong: n, flag, share, one.length_mm and 1 more)",
        ),
    ],
)
def test_mistakes_are_counted_by_field(tmp_path: Path, text: str, field: str, end: str) -> None:
    with pytest.raises(InputError) as caught:
        load(written(tmp_path, text), Top)
    assert f"field '{field}' is " in str(caught.value)
    assert str(caught.value).endswith(end)


def test_an_array_that_is_too_short_is_told(tmp_path: Path) -> None:
    class Few(Model):
        sizes: Annotated[tuple[Positive, ...], Field(min_length=1, max_length=3)]

    with pytest.raises(InputError, match=r"'sizes' is \[\]; allowed: an array of 1 to 3 entries, each .* 0$"):
        load(written(tmp_path, "sizes = []"), Few)
    with pytest.raises(InputError, match=r"'sizes\[1\]' is nan; allowed: a finite number greater than 0$"):
        load(written(tmp_path, "sizes = [nan]"), Few)


def test_a_byte_order_mark_is_read_over(tmp_path: Path) -> None:
    path = tmp_path / "in.toml"
    path.write_text('name = "x"\n', encoding="utf-8-sig")
    assert load(path, Top).name == "x"


def test_other_value_errors_get_the_file_in_front() -> None:
    with pytest.raises(InputError, match=r"^a\.toml: tip: too thick$"), named("a.toml", "tip."):
        raise ValueError("too thick")
    with pytest.raises(InputError, match=r"^a\.toml: field 'tip\.end' is 3; allowed: 4$"), named("a.toml", "tip."):
        raise FieldError("end", 3, "4")
    with pytest.raises(InputError, match=r"^a\.toml: field 'x' is 3; allowed: 4$"), named("b.toml"):
        fail("a.toml", "x", 3, "4")
    with pytest.raises(InputError, match=r"^a\.toml: field 'x' is missing; allowed: 4$"), named("a.toml"):
        raise FieldError("x", None, "4")
