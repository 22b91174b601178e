"""WTForms classes made from a measure's clinical data, so that form, check and judgement cannot disagree."""

from collections.abc import Mapping
from typing import Any

from flask_wtf import FlaskForm
from wtforms import (
    BooleanField,
    FieldList,
    Form,
    FormField,
    RadioField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.fields.choices import SelectChoice
from wtforms.widgets import CheckboxInput, ListWidget

Measure = Mapping[str, Any]
ROW = "__row__."


class CheckboxesField(SelectMultipleField):
    """Several of a few choices, each a checkbox."""

    widget = ListWidget(prefix_label=False)
    option_widget = CheckboxInput()


def measure_form(measure: Measure) -> FlaskForm:
    """A form with one field for each field of the measure, and its unit where there are several."""
    fields = dict(_field_pairs(measure["fields"]))
    fields["technique"] = CheckboxesField(
        "What you did", choices=[SelectChoice(step["id"], step["text"]) for step in measure["technique"]]
    )
    form_class = type(f"{measure['id'].title()}Form", (FlaskForm,), fields)
    # The page is the same for everyone and kept offline: a token in it would be personal and soon stale.
    form = form_class(meta={"csrf": False})
    for field in measure["fields"]:
        if field["type"] == "series":
            _name_row(form[field["id"]].entries[0].form)
    return form


def _name_row(row: Form) -> None:
    """Names a series' pattern row; the browser puts the row's own place where the placeholder stands."""
    for bound in row:
        bound.name = f"{ROW}{bound.short_name}"


def _field_pairs(fields: list[Measure]):
    for field in fields:
        yield field["id"], _wtforms_field(field)
        if len(field.get("units", ())) > 1:
            yield unit_name(field["id"]), _unit(field)


def unit_name(field_id: str) -> str:
    """The form name that holds the unit of a number field."""
    return f"{field_id}__unit"


def _unit(field: Measure) -> RadioField:
    units = [SelectChoice(unit["code"], unit["label"]) for unit in field["units"]]
    return RadioField(f"Unit of {field['label'].lower()}", choices=units, default=field["unit"])


def _wtforms_field(field: Measure):
    return _MAKERS[field["type"]](field)


def _number(field: Measure) -> StringField:
    keyboard = "decimal" if field.get("decimals") else "numeric"
    return StringField(field["label"], render_kw={"inputmode": keyboard, "autocomplete": "off"})


def _choice(field: Measure) -> RadioField:
    return RadioField(field["label"], choices=_choices(field), validate_choice=False)


def _choices(field: Measure) -> list[SelectChoice]:
    return [SelectChoice(choice["id"], choice["label"]) for choice in field["choices"]]


def _text(field: Measure) -> TextAreaField:
    return TextAreaField(field["label"], render_kw={"rows": 2, "autocomplete": "off", "spellcheck": "false"})


def _series(field: Measure) -> FieldList:
    item = type(f"{field['id'].title()}Item", (Form,), dict(_field_pairs(field["item"])))
    return FieldList(FormField(item), label=field["label"], min_entries=field.get("min", 1))


_MAKERS = {
    "number": _number,
    "choice": _choice,
    "choices": lambda field: CheckboxesField(field["label"], choices=_choices(field)),
    "flag": lambda field: BooleanField(field["label"]),
    "text": _text,
    "series": _series,
}
