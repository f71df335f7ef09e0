"""Plans to choose from: what the window was opened on, the library's own, and the shipped examples. No Qt.

Files are read here; call it from a worker.
"""

from dataclasses import dataclass, replace
from pathlib import Path

from benchlog import resources, textfile
from benchlog.domain.plan import Mover, Plan
from benchlog.errors import BenchlogError
from benchlog.window.offer import Offer

PLANS = "plans"
"""The folder of plans within a library."""


@dataclass(frozen=True, slots=True)
class PlanFile:
    """One plan that can be chosen.

    Attributes:
        name: its file, as it is shown.
        text: what stands in it.
        source: where it comes from, in words.
        plan: None where it has faults, which `error` holds.
    """

    name: str
    text: str
    source: str
    plan: Plan | None = None
    error: BenchlogError | None = None

    @property
    def title(self) -> str:
        """What it is called."""
        return self.plan.name if self.plan is not None else self.name

    @property
    def about(self) -> str:
        """Stages, who moves the source, and where it comes from."""
        if self.plan is None:
            count = len(self.error.faults) if self.error is not None else 0
            return f"{count} thing{'' if count == 1 else 's'} to put right; {self.source}"
        mover = "source by hand" if self.plan.source.moved_by is Mover.HAND else "source by the program"
        return f"{len(self.plan.stage)} stages, {mover}; {self.name}, {self.source}"


def find_plans(library: Path, offer: Offer) -> tuple[PlanFile, ...]:
    """Every plan at hand, what was offered first."""
    found = []
    if offer.plan_text:
        name = offer.plan_name or "plan"
        found.append(parsed(PlanFile(name, offer.plan_text, "offered")))
    folder = library / PLANS
    if folder.is_dir():
        found += [read_plan(path, "yours") for path in sorted(folder.glob("*.toml"))]
    known = {one.text for one in found}
    for example in sorted(resources.path("examples").iterdir()):
        file = example / "plan.toml"
        if file.is_file():
            one = replace(read_plan(file, "an example"), name=f"{example.name}/plan.toml")
            found += [one] if one.text not in known else []
    return tuple(found)


def read_plan(path: Path, source: str = "a file") -> PlanFile:
    """The plan in a file, with its faults where it has some."""
    try:
        text = textfile.read_text(path)
    except BenchlogError as error:
        return PlanFile(path.name, "", source, error=error)
    return parsed(PlanFile(path.name, text, source))


def parsed(one: PlanFile) -> PlanFile:
    """The same with its text understood."""
    try:
        return replace(one, plan=textfile.parse(one.text, one.name, Plan))
    except BenchlogError as error:
        return replace(one, error=error)
