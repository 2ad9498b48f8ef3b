"""Every engine that the file's may be, for any design: drawn once for all of them.

What the file leaves open is drawn as ``bands`` draws it (study/bands/cases.py), and every design is computed
in the same engines, so that what they have in common drops out of the designs' differences (common random
numbers: Law, Simulation Modeling and Analysis, ch. 11, from memory)."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

from aircolumn.engine.uncertain.inputs import all_unsure
from aircolumn.errors import RequestError
from aircolumn.study.bands.cases import Cases

if TYPE_CHECKING:
    from aircolumn.engine.description.candidates import Manifold
    from aircolumn.engine.description.engine_file import Engine
    from aircolumn.engine.uncertain.unsure import Unsure
    from aircolumn.study.plan import Plan


class DrawnEngines:
    """Of a plan's designs, ``count`` at most. Raises RequestError if the file leaves nothing open."""

    def __init__(self, plan: Plan, count: int) -> None:
        self.plan = plan
        self.cases = self._cases()
        if not self.cases.names:
            raise RequestError(
                f"{plan.engine_source.path} leaves nothing open: there is one engine to search over"
            )
        self.numbers = self.cases.drawn(count)

    def _cases(self) -> Cases:
        """What is open about the file's candidates, and about the first and the last design."""
        cases = Cases.of(self.plan.description)
        rows = {row.one: row for row in cases.unsure}
        for values in ([a.ends[k] for a in self.plan.axes] for k in (0, 1)):
            if self.plan.case(values).engine is not None:
                rows = {**{r.one: r for r in all_unsure(self.plan.manifold(values))}, **rows}
        known = {row.one for row in cases.unsure}
        more = tuple(row for one, row in rows.items() if one not in known)
        return replace(cases, unsure=(*cases.unsure, *more))

    @cached_property
    def _number(self) -> dict[str, int]:
        return {row.one: k for k, row in enumerate(self.cases.unsure)}

    def of_design(self, values: tuple, count: int) -> tuple[Engine | None, list[Engine | str], str]:
        """(engine of the file with a design, the same in ``count`` drawn engines or what is wrong with each,
        why there is none)."""
        case = self.plan.case(values)
        if case.engine is None:
            return None, [], case.reason
        return case.engine, self._drawn(self.plan.manifold(values), count), ""

    def of_runner(self, name: str | None, count: int) -> tuple[Engine | None, list[Engine | str], str]:
        """The same of a candidate as the file has it."""
        one = self.plan.manifold_of(name)
        return one.engine, self._drawn(one, count), ""

    def _drawn(self, one: Manifold, count: int) -> list[Engine | str]:
        rows: list[tuple[int, Unsure]] = [
            (self._number[row.one], row) for row in all_unsure(one) if row.one in self._number
        ]
        return [self.cases.engine(one.data, rows, z) for z in self.numbers[:count]]
