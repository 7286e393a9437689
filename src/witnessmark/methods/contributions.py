"""What a line of an uncertainty budget is called: the reading, fact or result that it stands for, or our own word."""

from __future__ import annotations

import re
from collections.abc import Mapping

from witnessmark.language import Words, declared, say
from witnessmark.methods.base import FactSpec, InputSpec, MeasurandSpec, Method

__all__ = ["CONTRIBUTIONS", "contribution"]

CONTRIBUTIONS: Mapping[str, str] = Words(
    {
        "accelerometer": declared("accelerometer"),
        "bus_voltage": declared("bus voltage"),
        "cell temperature": declared("cell temperature"),
        "cell voltage": declared("cell voltage"),
        "current": declared("current"),
        "current_other": declared("current at the other end of the step"),
        "decade_step": declared("step of the decade"),
        "edges": declared("edges"),
        "end": declared("end of the log"),
        "event_sampling": declared("sampling of the event"),
        "fit": declared("fit"),
        "log": declared("log"),
        "other_cell": declared("the other cell"),
        "pack_voltage": declared("pack voltage"),
        "repeatability": declared("repeatability"),
        "resistance": declared("resistance"),
        "response_sampling": declared("sampling of the response"),
        "sampling": declared("sampling"),
        "second order": declared("second order"),
        "speed_edges": declared("edges of the speed"),
        "steps": declared("steps of the log"),
        "voltage": declared("voltage"),
        "voltage_other": declared("voltage at the other end of the step"),
    }
)
"""Inputs that a method makes itself, by name."""

_REPEAT = re.compile(r"(.+?)[-_. \[(]*[0-9]+[\])]?\Z")


def contribution(method: Method | None, name: str) -> str:
    """The line of that name in words; repeats of a reading are called as the reading is."""
    title = _title(method, name)
    repeat = _REPEAT.match(name) if title is None else None
    if repeat is not None:
        title = _title(method, repeat[1])
    return name.replace("-", " ").replace("_", " ") if title is None else title


def _title(method: Method | None, name: str) -> str | None:
    if method is not None:
        specs: tuple[InputSpec | FactSpec | MeasurandSpec, ...] = (*method.inputs, *method.facts, *method.measurands)
        title = next((spec.title for spec in specs if spec.name == name), "")
        if title:
            return say(title)
    return CONTRIBUTIONS.get("steps" if name.endswith("_steps") else name)
