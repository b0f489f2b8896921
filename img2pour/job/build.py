"""Build a job from plain data, and say everything that is wrong with it at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from img2pour.job.faults import Fault, JobError, validate
from img2pour.job.model import Job
from img2pour.job.rules import broken_rules


def try_job(data: Mapping[str, Any]) -> tuple[Job | None, list[Fault]]:
    """Build a job from nested mappings: (job, []), or (None, every fault)."""
    values, faults = {}, []
    for name, content in data.items():
        if name in Job.model_fields:
            kind = Job.model_fields[name].annotation
            value, wrong = validate(kind, content, root=Job, at=(name,))
            faults += wrong
            if not wrong:
                values[name] = value
    unknown = {name: data[name] for name in data if name not in Job.model_fields}
    faults += validate(Job, unknown)[1] if unknown else []
    sound = {
        name: values.get(name, field.default)
        for name, field in Job.model_fields.items()
        if name in values or name not in data
    }
    faults += broken_rules(sound)
    return (None, faults) if faults else (Job(**values), [])


def make_job(**sections: Any) -> Job:
    """Build a job from sections given as mappings: ``make_job(size={"width": "12 in"})``.

    Raises
    ------
    JobError
        One line for every setting or combination that is wrong.
    """
    job, faults = try_job(sections)
    if job is None:
        raise JobError(faults)
    return job
