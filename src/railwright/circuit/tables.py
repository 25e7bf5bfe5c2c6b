"""The forms that tables of a design file take: their keys are the fields of a dataclass."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin, get_type_hints

from railwright.circuit.forms import Choice, Flag, Form, Quantity, Text, described
from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath
from railwright.files.mistakes import nearest
from railwright.quantity import show


@dataclass(frozen=True)
class Rows(Form):
    """An array; of tables, where each element is one."""

    form: Form
    least: int = 0
    most: int | None = None

    blank = ()

    @property
    def example(self) -> str:
        return f"[{', '.join([self.form.example] * (self.most or 1))}]"

    def written(self, path: KeyPath) -> str:
        if isinstance(self.form, Quantity | Text):
            return super().written(path)
        return f"[[{_header(path)}]]"

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> tuple[Any, ...]:
        if not isinstance(found, list):
            text = f"found {described(found)}, an array is wanted. Write {self.written(path)}."
            complaints.value(path, text)
            return ()
        if len(found) < self.least or (self.most is not None and len(found) > self.most):
            wanted = f"{self.most}" if self.most else f"at least {self.least}"
            complaints.value(path, f"found an array of {len(found)}, one of {wanted} is wanted.")
        return tuple(
            self.form.read(element, (*path, index), complaints)
            for index, element in enumerate(found)
        )


def read_keys(
    found: object,
    path: KeyPath,
    complaints: Complaints,
    forms: Mapping[str, Form],
    required: tuple[str, ...],
) -> dict[str, Any]:
    """What a table holds, by key: complains of unknown and missing keys, fills in blanks."""
    if not isinstance(found, dict):
        keys = ", ".join(f"{key} = {forms[key].example}" for key in required or list(forms)[:1])
        complaints.value(path, f"found {described(found)}, a table is wanted: {{ {keys} }}.")
        found = None
    values: dict[str, Any] = {}
    for key, value in (found or {}).items():
        if key in forms:
            values[key] = forms[key].read(value, (*path, key), complaints)
        else:
            complaints.key((*path, key), f'there is no key "{key}" here. {nearest(key, forms)}')
    for key in required:
        if key not in values:
            values[key] = forms[key].blank
            if found is not None:
                here = (*path, key)
                complaints.value(here, f"{key} is missing. Write {forms[key].written(here)}.")
    return values


def _header(path: KeyPath) -> str:
    """The words of a table's header."""
    return ".".join(step for step in path if isinstance(step, str))


@dataclass(frozen=True)
class Keys(Form):
    """A table whose keys may all be left out."""

    forms: Mapping[str, Form]

    @property
    def example(self) -> str:
        return "{ " + ", ".join(f"{k} = {form.example}" for k, form in self.forms.items()) + " }"

    @property
    def blank(self) -> dict[str, Any]:
        return {}

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> dict[str, Any]:
        return read_keys(found, path, complaints, self.forms, ())


@dataclass(frozen=True)
class Range:
    """Least and greatest value."""

    min: float
    max: float


@dataclass(frozen=True)
class NominalRange(Range):
    """Least, usual and greatest value."""

    nominal: float


@dataclass(frozen=True)
class RangeOf(Form):
    """A table of `min`, `max` and where asked `nominal`, in order."""

    quantity: Quantity
    nominal: bool = False

    @property
    def keys(self) -> tuple[str, ...]:
        return ("min", "nominal", "max") if self.nominal else ("min", "max")

    @property
    def example(self) -> str:
        return "{ " + ", ".join(f"{key} = {self.quantity.example}" for key in self.keys) + " }"

    @property
    def blank(self) -> Range:
        return self._range(dict.fromkeys(self.keys, math.nan))

    def _range(self, values: Mapping[str, float]) -> Range:
        return NominalRange(**values) if self.nominal else Range(**values)

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> Range:
        forms = dict.fromkeys(self.keys, self.quantity)
        values = read_keys(found, path, complaints, forms, self.keys)
        for low, high in zip(self.keys, self.keys[1:], strict=False):
            if values[low] > values[high]:
                found_values = [show(values[key], self.quantity.unit) for key in (low, high)]
                text = f"{low} {found_values[0]} lies above {high} {found_values[1]}."
                complaints.value((*path, low), f"{text} Exchange or correct them.")
        return self._range(values)


@dataclass(frozen=True)
class Table(Form):
    """A table whose keys are the fields of a dataclass, a trailing underscore left off."""

    fields_of: Any

    @property
    def forms(self) -> Mapping[str, Form]:
        return _forms(self.fields_of)

    @property
    def required(self) -> tuple[str, ...]:
        return tuple(_key(f.name) for f in fields(self.fields_of) if f.default is MISSING)

    @property
    def example(self) -> str:
        keys = (f"{key} = {self.forms[key].example}" for key in self.required)
        return "{ " + ", ".join(keys) + " }"

    @property
    def blank(self) -> Any:
        return self._made({key: self.forms[key].blank for key in self.required})

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> Any:
        return self._made(read_keys(found, path, complaints, self.forms, self.required))

    def written(self, path: KeyPath) -> str:
        if any(isinstance(step, int) for step in path):
            return super().written(path)  # inside a row, one line is enough
        first = self.required[0]
        if isinstance(self.forms[first], Table):
            return self.forms[first].written((*path, first))
        return f"[{_header(path)}]"

    def _made(self, values: Mapping[str, Any]) -> Any:
        names = {_key(f.name): f.name for f in fields(self.fields_of)}
        return self.fields_of(**{names[key]: value for key, value in values.items()})


def _key(name: str) -> str:
    """The key of a field: the words that Python keeps for itself carry an underscore."""
    return name.rstrip("_")


@cache
def _forms(fields_of: Any) -> Mapping[str, Form]:
    hints = get_type_hints(fields_of, include_extras=True)
    return {_key(field.name): _form(hints[field.name]) for field in fields(fields_of)}


def _form(hint: Any) -> Form:
    """The form that an annotation stands for."""
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is Annotated:
        form: Form = hint.__metadata__[0]
        return form
    if origin is Literal:
        return Choice(arguments)
    if origin is tuple:
        return Rows(_form(arguments[0]))
    if NoneType in arguments:
        return _form(next(argument for argument in arguments if argument is not NoneType))
    if is_dataclass(hint):
        return Table(hint)
    if hint is str:
        return Text()
    if hint is bool:
        return Flag()
    raise TypeError(f"{hint!r} is not the annotation of a form")
