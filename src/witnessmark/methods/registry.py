"""All methods, one line each, and those of third parties that a workshop names."""

from __future__ import annotations

import hashlib
import re
import sys
from collections.abc import Mapping
from importlib import import_module
from importlib.abc import ResourceLoader
from importlib.util import find_spec
from typing import TYPE_CHECKING

from witnessmark.methods.base import Method

if TYPE_CHECKING:
    from witnessmark.methods.plugins import Plugin

__all__ = ["METHODS", "adopt", "method", "method_ids", "newest_ids", "source_digest"]

METHODS: Mapping[str, str] = {
    "voltmeter-own-source/1": "voltmeter_own_source",
    "insulation-tester/1": "insulation_tester",
    "bonding-four-wire/1": "bonding_four_wire",
    "voltage-decay/1": "voltage_decay",
    "cell-window/1": "cell_window",
    "voltmeter-pair-own-source/1": "voltmeter_pair_own_source",
    "voltmeter-component/1": "voltmeter_component",
    "isolation-parallel/1": "isolation_parallel",
    "isolation-resistor-choice/1": "isolation_resistor_choice",
    "isolation-settling/1": "isolation_settling",
    "isolation-monitor-check/1": "isolation_monitor_check",
    "isolation-monitor-threshold/1": "isolation_monitor_threshold",
    "isolation-sequence/1": "isolation_sequence",
    "bonding-lead-subtraction/1": "bonding_lead_subtraction",
    "bonding-part-to-part/1": "bonding_part_to_part",
    "bonding-strap/1": "bonding_strap",
    "discharge-two-readings/1": "discharge_two_readings",
    "discharge-fit/1": "discharge_fit",
    "discharge-resistor/1": "discharge_resistor",
    "discharge-resistor/2": "discharge_resistor_bent",
    "discharge-constant-current/1": "discharge_constant_current",
    "discharge-energy/1": "discharge_energy",
    "capacitor-energy/1": "capacitor_energy",
    "reaction-time/1": "reaction_time",
    "conductor-resistance/1": "conductor_resistance",
    "conductor-class/1": "conductor_class",
    "voltage-drop/1": "voltage_drop",
    "short-time-rating/1": "short_time_rating",
    "prospective-current/1": "prospective_current",
    "fuse-melting-time/1": "fuse_melting_time",
    "fuse-let-through/1": "fuse_let_through",
    "fuse-pulse/1": "fuse_pulse",
    "fuse-rerating/1": "fuse_rerating",
    "fuse-time-gate/1": "fuse_time_gate",
    "fuse-coordination/1": "fuse_coordination",
    "creepage/1": "creepage",
    "clearance/1": "clearance",
    "impulse-voltage/1": "impulse_voltage",
    "vent-gas/1": "vent_gas",
    "vent-area/1": "vent_area",
    "vent-flow/1": "vent_flow",
    "enclosure-pressure/1": "enclosure_pressure",
    "fluoride-release/1": "fluoride_release",
    "glycol-properties/1": "glycol_properties",
    "coolant-duty/1": "coolant_duty",
    "warm-up/1": "warm_up",
    "plate-pressure-drop/1": "plate_pressure_drop",
    "pack-data/1": "pack_data",
    "pack-heat/1": "pack_heat",
    "cell-readings/1": "cell_readings",
    "cell-window-settings/1": "cell_window_settings",
    "precharge/1": "precharge",
    "contactor-sequence/1": "contactor_sequence",
    "usable-capacity/1": "usable_capacity",
    "log-capacity/1": "log_capacity",
    "log-coverage/1": "log_coverage",
    "log-resistance/1": "log_resistance",
    "cell-spread/1": "cell_spread",
    "pulse-resistance/1": "pulse_resistance",
    "restraint-load/1": "restraint_load",
    "axle-masses/1": "axle_masses",
    "shock-corridor/1": "shock_corridor",
    "half-sine-pulse/1": "half_sine_pulse",
    "transport-shock/1": "transport_shock",
    "vibration-profile/1": "vibration_profile",
    "touch-current/1": "touch_current",
    "access-probe/1": "access_probe",
    "hydrogen-mass/1": "hydrogen_mass",
}
"""Id and module; a module is imported when its method is asked for. Old versions stay."""


_ADOPTED: dict[str, Method] = {}
"""Methods of the plug-ins that the workshop at hand names. One process works on one workshop; `adopt` replaces them."""


def adopt(plugins: Mapping[str, Plugin]) -> None:
    """From now on `method` and `method_ids` know these plug-ins beside our own methods, and no others."""
    _ADOPTED.clear()
    _ADOPTED.update({id: plugin.method for id, plugin in plugins.items()})


def method(id: str) -> Method | None:
    """The method of that id, ours or of a plug-in that was adopted; None when there is none."""
    module = METHODS.get(id)
    if module is not None:
        found: Method = import_module(f"witnessmark.methods.{module}").METHOD
        return found
    return _ADOPTED.get(id)


def method_ids() -> tuple[str, ...]:
    """The ids of all methods, sorted."""
    return tuple(sorted({*METHODS, *_ADOPTED}))


def newest_ids() -> tuple[str, ...]:
    """The id of the newest version of each method, sorted: what a new measurement is made by. Old versions stay known
    for the records that name them."""
    newest: dict[str, int] = {}
    for id in method_ids():
        name, _, version = id.partition("/")
        newest[name] = max(newest.get(name, 0), int(version))
    return tuple(f"{name}/{version}" for name, version in sorted(newest.items()))


def source_digest(found: Method) -> str:
    """`sha256:…` over the source of the method and of the engine beneath it: what could alter a digit.

    For a plug-in: over its own module. Line ends are folded, so that a checkout on another system says the same.
    """
    own = found.evaluate_with.__module__
    modules = [own]
    if own.startswith("witnessmark."):
        modules += [f"witnessmark.methods.{name}" for name in ("base", "checking", "formulas", "series", "watching")]
        modules += sorted(_beneath(own) - set(modules))
        modules += [
            f"witnessmark.quantities.{name}"
            for name in ("evaluation", "format", "propagation", "quantity", "second_order", "units")
        ]
    digest = hashlib.sha256()
    for name in modules:
        digest.update(name.encode() + b"\0" + _source(name).replace(b"\r\n", b"\n") + b"\0")
    return "sha256:" + digest.hexdigest()


def _beneath(module: str) -> set[str]:
    """Modules of this floor that a method's module imports, and those that they import: tables, fits, curves."""
    found: set[str] = set()
    waiting = [module]
    while waiting:
        for name in re.findall(rb"^from (witnessmark\.methods\.\w+) import", _source(waiting.pop()), re.MULTILINE):
            other = name.decode()
            if other not in found:
                found.add(other)
                waiting.append(other)
    return found


def _source(module: str) -> bytes:
    loaded = sys.modules.get(module)
    spec = loaded.__spec__ if loaded is not None else find_spec(module)
    if spec is None or spec.origin is None or not isinstance(spec.loader, ResourceLoader):
        return b""
    return spec.loader.get_data(spec.origin)
