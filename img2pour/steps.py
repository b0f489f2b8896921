"""The steps from a picture to a design, each with its inputs and the job fields that it reads.

Results are kept by a key made from a step's inputs and fields, so that changing one setting redoes
only what depends on it: the trace does not read the width, placing does not read the bits. No step
knows the command line, the page or a file format but its own.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, MutableMapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from img2pour.progress import Progress

if TYPE_CHECKING:
    from img2pour.job.model import Job


@dataclass(frozen=True)
class Step:
    """One step of the work.

    Attributes
    ----------
    name : str
        What a person reads while it runs, and the name of its result.
    work : callable
        Called with the results of `inputs` in order, then the job.
    inputs : tuple of str
        Names of the steps whose results it needs.
    reads : tuple of str
        Job fields that it reads, such as ``"size"`` or ``"carving.depth"``.
    cost : float
        Its usual share of the whole time, for the progress.
    by_value : bool
        True where the result is small and tells all in its repr: what follows is then kept as
        long as the result stays the same, whatever made it.
    """

    name: str
    work: Callable[..., Any]
    inputs: tuple[str, ...] = ()
    reads: tuple[str, ...] = ()
    cost: float = 1.0
    by_value: bool = False


@dataclass
class Workbench:
    """Runs steps for one source and one job, and keeps their results.

    Attributes
    ----------
    table : mapping of str to Step
    source : object
        What the first step reads; its key is `source_key`.
    source_key : str
    job : Job
    base : Path
        Folder from which the job's paths are seen.
    progress : Progress
    kept : mapping
        Results by key, which begins with the step's name; hand it on to the next workbench to
        redo only what changed.
    ran : list of str
        Names of the steps that really ran, in order.
    """

    table: Mapping[str, Step]
    source: Any
    source_key: str
    job: Job
    base: Path
    progress: Progress = field(default_factory=Progress)
    kept: MutableMapping[str, Any] = field(default_factory=dict)
    ran: list[str] = field(default_factory=list)
    _keys: dict[str, str] = field(default_factory=dict)
    _done: float = 0.0

    def get(self, name: str) -> Any:
        """Return the result of a step, from what is kept or by running it.

        Raises
        ------
        Img2PourError
            Whatever the step raises; nothing of a failed step is kept.
        """
        key = self._key(name)
        if key not in self.kept:
            step = self.table[name]
            inputs = [self.get(wanted) for wanted in step.inputs]
            self.progress.at(name, self._done / self._total)
            self.kept[key] = step.work(self, *inputs)
            self.ran.append(name)
            self._done += step.cost
        return self.kept[key]

    def get_beside(self, names: Sequence[str]) -> list[Any]:
        """Return the results of steps that do not need each other, run side by side.

        What they need is run before, in order; they share it and must not change it.

        Raises
        ------
        Img2PourError
            Whatever the first of them raises, in the order of `names`.
        """
        for name in names:
            for wanted in self.table[name].inputs:
                self.get(wanted)
        with ThreadPoolExecutor(max(1, len(names))) as pool:
            running = [pool.submit(self.get, name) for name in names]
            return [one.result() for one in running]

    def has(self, name: str) -> bool:
        """Tell whether a step's result is kept; small steps before it may run for that."""
        return self._key(name) in self.kept

    def key(self, name: str) -> str:
        """Return the key of a step's result: it changes with all that the result depends on."""
        return self._key(name)

    def _key(self, name: str) -> str:
        """Return the key of a step's result: its name, its inputs' keys, the fields it reads."""
        if name not in self._keys:
            step = self.table[name]
            parts = [name, self.source_key if not step.inputs else ""]
            parts += [self._input_key(wanted) for wanted in step.inputs]
            parts += [_field_text(self.job, path) for path in step.reads]
            digest = hashlib.sha256("\x00".join(parts).encode()).hexdigest()
            self._keys[name] = f"{name} {digest}"
        return self._keys[name]

    def _input_key(self, name: str) -> str:
        """Return the key of an input; a small value stands for itself."""
        return repr(self.get(name)) if self.table[name].by_value else self._key(name)

    @property
    def _total(self) -> float:
        return sum(step.cost for step in self.table.values())


def _field_text(job: Job, path: str) -> str:
    """Return a job field as text that is the same for equal values."""
    value: Any = job
    for name in path.split("."):
        value = getattr(value, name)
    return f"{path}={value!r}"


def as_table(steps: Sequence[Step]) -> dict[str, Step]:
    """Return the steps by name, in order; every input must stand before its step.

    Raises
    ------
    ValueError
        When a name stands twice, or a step needs what comes later.
    """
    table: dict[str, Step] = {}
    for step in steps:
        missing = [name for name in step.inputs if name not in table]
        if missing or step.name in table:
            raise ValueError(f"step {step.name!r} stands twice or before {missing}")
        table[step.name] = step
    return table
