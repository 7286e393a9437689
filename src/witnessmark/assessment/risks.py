"""The risk analysis of a vehicle, held against the states of the requirements that its controls name.

A control holds where everything that it names conforms; anything else reopens its row. It moves no state.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import RequirementState, RiskControl, RiskRow, RiskState, State
from witnessmark.records.acts import RiskAnalysis
from witnessmark.records.world import Act

__all__ = ["risk_state"]


def risk_state(ledger: Ledger, vehicle: str, requirements: Sequence[RequirementState]) -> RiskState | None:
    """The newest analysis that was not taken back; None where there is none. One that is not sound holds nothing."""
    acts = sorted(((a, b) for a, b in ledger.of(RiskAnalysis, vehicle) if not ledger.gone(a)), key=_order)
    if not acts:
        return None
    act, body = acts[-1]
    causes = ledger.causes(act)
    rows = []
    for ident, risk in body.risks.items():
        controls = tuple(
            RiskControl(name, control, tuple(_named(ref, requirements) for ref in control.shown_by))
            for name, control in risk.controls.items()
        )
        rows.append(RiskRow(ident, risk, controls))
    return RiskState(act.code, body, tuple(rows), causes[0].message if causes else "")


def _order(pair: tuple[Act, RiskAnalysis]) -> tuple[float, int, str]:
    act, body = pair
    return body.stated.timestamp(), act.appeared if act.appeared is not None else 10**9, act.code


def _named(ref: str, requirements: Iterable[RequirementState]) -> tuple[str, State | None]:
    """The worst state of what is named; None where the vehicle's sets do not ask it."""
    name, _, leaf = ref.partition("/")
    set_id, _, ident = name.rpartition(":")
    found: list[State] = []
    for state in requirements:
        if state.id == ident and set_id in ("", state.set_id):
            of_leaf = [one.state for part in state.parts for one in part.leaves if one.name == leaf]
            found += of_leaf if leaf and state.state is not State.NOT_APPLICABLE else [state.state]
            if leaf and not of_leaf and state.state is not State.NOT_APPLICABLE:
                return ref, None
    order = list(State)
    return ref, min(found, key=order.index, default=None)
