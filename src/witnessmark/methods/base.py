"""What every method declares and gives: the shapes that readings, results and demands have.

A method is pure: `evaluate` takes readings, facts and (for logs) figures, and gives a `Result`, or `Refused` with
every fault in the input. It reads no file, no clock and no setting. All floats are in the coherent SI unit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from witnessmark.language import say
from witnessmark.problems import Problem
from witnessmark.quantities.propagation import BudgetRow, Input, NoResult
from witnessmark.quantities.quantity import Quantity
from witnessmark.quantities.units import Unit, parse_unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Column = NDArray[np.float64]

__all__ = [
    "Alarm",
    "BudgetRow",
    "Caution",
    "ChannelSpec",
    "ConditionSpec",
    "FactSpec",
    "FigureData",
    "Input",
    "InputSpec",
    "MeasurandSpec",
    "Method",
    "OptionSpec",
    "Output",
    "Reading",
    "Refused",
    "Result",
    "RoleSpec",
    "Step",
]


@dataclass(frozen=True, slots=True)
class InputSpec:
    """One thing that is read off an instrument, in the order in which it is read.

    `symbol` is LaTeX; `unit` is the preset. `low` and `high` are what is plausible, in `unit`: outside is an alarm,
    not an error. With `choices` it is a word instead of a number, and `unit` is empty. `repeats` allows several
    readings. `role` is the instrument that it is read on. `preset` is for methods that read a log: the value at which
    the accuracy of the instrument in `role` counts. Nobody reads it off; the caller makes the reading from it and the
    calibration.
    """

    name: str
    symbol: str
    title: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    required: bool = True
    repeats: bool = False
    order: int = 0
    role: str = ""
    choices: tuple[str, ...] = ()
    bound_allowed: bool = False
    preset: str = ""


@dataclass(frozen=True, slots=True)
class FactSpec:
    """A fact about the vehicle or part that the calculation needs, with its unit (empty: a word)."""

    name: str
    title: str
    unit: str
    symbol: str = ""
    required: bool = True


@dataclass(frozen=True, slots=True)
class RoleSpec:
    """A place that an instrument fills: `function` is the function of its accuracy that is used.

    `traits` are the least values that its calibration has to state, such as input_resistance: 10 MΩ; `finest` the
    coarsest resolution that will do, empty for any. `demands` says it in words.
    """

    name: str
    title: str
    function: str
    demands: str = ""
    traits: tuple[tuple[str, str], ...] = ()
    finest: str = ""
    required: bool = True


@dataclass(frozen=True, slots=True)
class ConditionSpec:
    """A condition of the measurement that the record states: `must` is what it has to say, empty for any statement."""

    name: str
    title: str
    must: str = ""
    required: bool = True


@dataclass(frozen=True, slots=True)
class MeasurandSpec:
    """What the method yields. `unit` is the one in which results are printed."""

    name: str
    title: str
    symbol: str
    unit: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning that stands wherever the method is shown."""

    text: str


@dataclass(frozen=True, slots=True)
class ChannelSpec:
    """A channel of a log: with `many`, a record names several by a pattern such as `cell_*`.

    `moves`: in any log that shows something its sensor moves. One that never does may hang or be unplugged, and nothing
    from it is believed.
    """

    name: str
    title: str
    unit: str
    many: bool = False
    required: bool = True
    moves: bool = False


@dataclass(frozen=True, slots=True)
class OptionSpec:
    """A number that says how a log is reduced, with its unit and the value that holds when it is not given.

    `bench_only`: a record cannot set it, since the clause gives it; a looser value would let a result pass.
    """

    name: str
    title: str
    unit: str
    default: float | None = None
    bench_only: bool = False


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: what was written, and the input for the engine when its uncertainty is known.

    `input` comes from the calibration in force, or from the reading's own "± U (k=2)"; None means that no uncertainty
    is known. A reading that is a word (a choice) stands in `word`.
    """

    quantity: Quantity | None
    input: Input | None = None
    word: str = ""


@dataclass(frozen=True, slots=True)
class Output:
    """A result in the coherent SI unit; `unit` is for printing.

    `u`, `k`, `U` are None when the uncertainty of an input is not known; such a result passes no guarded rule.
    `bound` is "", ">" or "<". `notes` are about this result, `where` says which cell, channel or time it belongs to.
    """

    measurand: str
    value: float
    unit: Unit
    u: float | None
    dof: float
    k: float | None
    U: float | None
    bound: str = ""
    budget: tuple[BudgetRow, ...] = ()
    notes: tuple[str, ...] = ()
    where: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the calculation with its numbers put in: words, LaTeX (what becomes MathML), and as read aloud."""

    words: str
    formula: str
    spoken: str


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something about the readings that a person at the vehicle wants to know now.

    A fatal alarm means that the result must not be believed: assessment lets it help nothing.
    """

    code: str
    message: str
    remedy: str
    fatal: bool = False


@dataclass(frozen=True, slots=True)
class FigureData:
    """A figure as plain data, drawn elsewhere. Numbers are in `x_unit` and `y_unit`, those of an interval in `x_unit`.

    `interval`: one result against its scale: `numbers` value, U. `decay`: `arrays` time, voltage; `numbers` limit,
    crossing, crossing_low, crossing_high. `band`: `arrays` time, low, high (each bin's smallest and largest).
    `curves`: lines by name, `arrays` NAME_current and NAME_time, both axes logarithmic; `numbers` are marks on them.
    """

    kind: Literal["interval", "decay", "band", "curves"]
    title: str
    x_label: str
    y_label: str
    x_unit: str
    y_unit: str
    arrays: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    numbers: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Result:
    """What a method makes of one set of readings."""

    method: str
    outputs: tuple[Output, ...]
    steps: tuple[Step, ...]
    alarms: tuple[Alarm, ...] = ()
    figures: tuple[FigureData, ...] = ()

    @property
    def figure(self) -> FigureData | None:
        """The first figure, if any."""
        return self.figures[0] if self.figures else None

    @property
    def believable(self) -> bool:
        """Whether no alarm is fatal."""
        return not any(alarm.fatal for alarm in self.alarms)

    def output(self, measurand: str) -> Output | None:
        """The output for one measurand; None when the method did not yield it."""
        return next((o for o in self.outputs if o.measurand == measurand), None)


@dataclass(frozen=True, slots=True)
class Refused:
    """The input cannot be evaluated; every fault is listed."""

    faults: tuple[Problem, ...]


Evaluate = Callable[
    [Mapping[str, tuple[Reading, ...]], Mapping[str, Quantity | str], Mapping[str, object]], Result | Refused
]
Reduce = Callable[[Mapping[str, Any], Mapping[str, float]], dict[str, object]]


@dataclass(frozen=True)
class Method:
    """A method of measurement, by its versioned id `name/1`. A change that can alter a digit is a new version."""

    id: str
    title: str
    purpose: str
    source: str
    confidence: str
    equation: str
    validity: str
    cautions: tuple[Caution, ...]
    inputs: tuple[InputSpec, ...]
    measurands: tuple[MeasurandSpec, ...]
    evaluate_with: Evaluate
    facts: tuple[FactSpec, ...] = ()
    roles: tuple[RoleSpec, ...] = ()
    conditions: tuple[ConditionSpec, ...] = ()
    channels: tuple[ChannelSpec, ...] = ()
    options: tuple[OptionSpec, ...] = ()
    reduce_with: Reduce | None = None
    second_order: bool = False
    """Whether terms of second order count (JCGM 100:2008, 5.1.2, note): for a model that is bent within its
    uncertainties. They only ever enlarge u."""
    takes_held: bool = False
    """Whether it allows for channels that were held between their samples: `reduce` then finds the longest hold in s
    under the option `hold`. Other methods refuse such a log."""

    def __post_init__(self) -> None:
        if not self.cautions:
            raise ValueError(f"{self.id} has no caution: this work can kill")
        if not self.measurands:
            raise ValueError(f"{self.id} yields nothing")
        names = [spec.name for spec in self.inputs]
        if len(set(names)) != len(names):
            raise ValueError(f"{self.id} names an input twice")
        roles = {role.name for role in self.roles}
        for spec in self.inputs:
            if spec.role and spec.role not in roles:
                raise ValueError(f"{self.id} reads {spec.name} on {spec.role}, which is none of its roles")

    @property
    def name(self) -> str:
        """The id without its version."""
        return self.id.partition("/")[0]

    @property
    def version(self) -> int:
        """The number behind the name."""
        return int(self.id.partition("/")[2])

    @cached_property
    def _measurands(self) -> dict[str, MeasurandSpec]:
        return {spec.name: spec for spec in self.measurands}

    def measurand(self, name: str) -> MeasurandSpec | None:
        """What the method declares about one measurand, None if it does not yield it."""
        return self._measurands.get(name)

    def input(self, name: str) -> InputSpec | None:
        """What the method declares about one input, None if it has none of that name."""
        return next((spec for spec in self.inputs if spec.name == name), None)

    def unit_of(self, measurand: str) -> Unit:
        """The unit in which a measurand is printed."""
        return parse_unit(self._measurands[measurand].unit)

    def evaluate(
        self,
        readings: Mapping[str, tuple[Reading, ...]],
        facts: Mapping[str, Quantity | str] | None = None,
        figures: Mapping[str, object] | None = None,
    ) -> Result | Refused:
        """The result for these readings: `Refused` names every fault, and never raises for what a person wrote.

        `figures` are what `reduce` gave, for a method that reads a log.
        """
        from witnessmark.methods.checking import faults_of
        from witnessmark.methods.watching import watched

        faults = faults_of(self, readings, facts or {}, figures)
        if faults:
            return Refused(faults)
        try:
            return watched(self.evaluate_with(readings, facts or {}, figures or {}), figures or {})
        except (ArithmeticError, NoResult) as fault:
            # Numbers far outside all measure overflow, or divide by what has become zero: no result, and no crash.
            return Refused(
                (
                    Problem(
                        "method.no-result",
                        say(
                            "{method} gives no finite result with these numbers ({fault})", method=self.id, fault=fault
                        ),
                        say("look at the readings and facts: one lies far outside what can be measured"),
                    ),
                )
            )

    def reduce(self, columns: Mapping[str, Column], options: Mapping[str, float] | None = None) -> dict[str, object]:
        """Figures, JSON-able, from the columns of a log.

        `columns`: numpy arrays of equal length by channel name, in the units that `channels` names; a channel that is
        `many` takes its columns as `channel:column`. `options` by name, in SI.

        Faults in the log stand in the figures under `faults` (code, message, remedy) and make `evaluate` refuse.
        """
        if self.reduce_with is None:
            raise ValueError(f"{self.id} reads no log")
        from witnessmark.methods.watching import WATCHED, seen

        figures = self.reduce_with(columns, options or {})
        return figures if figures.get("faults") else figures | {WATCHED: seen(self.channels, columns)}
