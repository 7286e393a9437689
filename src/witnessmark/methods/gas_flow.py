r"""Isentropic flow of an ideal gas out of a vessel: choked or subcritical, decided by the pressures.

Choked when p_b/p_0 ≤ (2/(κ + 1))^(κ/(κ − 1)).

Source: closed form (energy and continuity along a nozzle); the choked form was seen.
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.language import say
from witnessmark.methods.working import Working
from witnessmark.quantities.propagation import Uncertain, sqrt

__all__ = ["GAS_CONSTANT", "REFERENCE_TEMPERATURE", "STANDARD_PRESSURE", "Gas", "critical_ratio", "gas_of"]

GAS_CONSTANT = 8.314462618
"""Molar gas constant in J/(mol·K). Source: CODATA 2018 (exact)."""
STANDARD_PRESSURE = 101325.0
"""Pressure in Pa at which volumes of gas are stated."""
REFERENCE_TEMPERATURE = 298.15
"""Temperature in K at which volumes of gas are stated."""


def critical_ratio(kappa: Uncertain) -> Uncertain:
    """Pressure ratio p*/p0 below which the flow is choked; `kappa` is above 1. Source: closed form."""
    return (2 / (kappa + 1)) ** (kappa / (kappa - 1))


@dataclass(frozen=True)
class Gas:
    """Gas in a vessel: pressure in Pa, temperature in K, κ, specific gas constant in J/(kg·K), Z, and p_b/p_0."""

    pressure: Uncertain
    temperature: Uncertain
    kappa: Uncertain
    constant: Uncertain
    ratio: Uncertain
    critical: Uncertain

    @property
    def choked(self) -> bool:
        """Whether the narrowest place runs at the speed of sound."""
        return self.ratio.value <= self.critical.value

    def flux(self) -> Uncertain:
        """Mass flux in kg/(s·m²) in the narrowest place. Source: closed form, both branches."""
        k, rt = self.kappa, self.constant * self.temperature
        if self.choked:
            return self.pressure * sqrt(k / rt) * (2 / (k + 1)) ** ((k + 1) / (2 * (k - 1)))
        r = self.ratio
        return self.pressure * sqrt(2 / rt * k / (k - 1) * (r ** (2 / k) - r ** ((k + 1) / k)))

    def throat_temperature(self) -> Uncertain:
        """Temperature in K in the narrowest place. Source: closed form."""
        if self.choked:
            return self.temperature * 2 / (self.kappa + 1)
        return self.temperature * self.ratio ** ((self.kappa - 1) / self.kappa)

    def throat_speed(self) -> Uncertain:
        """Speed in m/s in the narrowest place. Source: closed form."""
        k = self.kappa
        if self.choked:
            return sqrt(k * self.constant * self.throat_temperature())
        return sqrt(2 * k / (k - 1) * self.constant * (self.temperature - self.throat_temperature()))

    def steps(self, w: Working) -> None:
        """The worked steps up to the mass flux, which `w` already holds as `flux`."""
        w.let("gas_constant", self.constant, "J/kg/K")
        w.let("t0", self.temperature, "K")
        w.let("critical", self.critical, "1")
        w.let("ratio", self.ratio, "1")
        w.step(say("Pressure ratio."), r"r = \frac{<outside_pressure>}{<inside_pressure>} = <ratio>")
        w.step(
            say("Against the critical one: the flow is choked.")
            if self.choked
            else say("Against the critical one: the flow is subcritical."),
            r"r_c = \left( \frac{2}{<isentropic_exponent> + 1} \right)"
            r"^{\frac{<isentropic_exponent>}{<isentropic_exponent> - 1}} = <critical>",
        )
        if self.choked:
            w.step(
                say("Mass flux, choked."),
                r"G = <inside_pressure> \cdot \sqrt{\frac{<isentropic_exponent>}{<gas_constant> \cdot <t0>}} \cdot "
                r"\left( \frac{2}{<isentropic_exponent> + 1} \right)"
                r"^{\frac{<isentropic_exponent> + 1}{2 \cdot \left( <isentropic_exponent> - 1 \right)}} = <flux>",
            )
        else:
            w.step(
                say("Mass flux, subcritical."),
                r"G = <inside_pressure> \cdot \sqrt{\frac{2}{<gas_constant> \cdot <t0>} \cdot "
                r"\frac{<isentropic_exponent>}{<isentropic_exponent> - 1} \cdot \left( <ratio>"
                r"^{\frac{2}{<isentropic_exponent>}} - <ratio>"
                r"^{\frac{<isentropic_exponent> + 1}{<isentropic_exponent>}} \right)} = <flux>",
            )


def gas_of(w: Working) -> Gas | None:
    """The gas from the readings of a working; None with faults when they are no gas."""
    w.above_zero("inside_pressure", "outside_pressure", "relative_molar_mass", "compressibility")
    w.valid("discharge_coefficient", 1e-3, 1, "1", say("state the coefficient of the vent, 0.6 for a sharp hole"))
    w.valid("isentropic_exponent", 1.0001, 5 / 3 + 1e-9, "1", say("state the ratio of heat capacities of the gas"))
    w.valid("temperature", -150, 2000, "°C", say("state the temperature of the gas"))
    if w.faults:
        return None
    constant = GAS_CONSTANT / (w.x["relative_molar_mass"] / 1000)
    if w.has("compressibility"):
        constant = constant * w.x["compressibility"]
    kappa = w.x["isentropic_exponent"]
    return Gas(
        w.x["inside_pressure"],
        w.x["temperature"],
        kappa,
        constant,
        w.x["outside_pressure"] / w.x["inside_pressure"],
        critical_ratio(kappa),
    )
