"""Tonight's jobs and limits, written down for the page that people open by phone."""

from datetime import date

from frostalert.cycle.deciding import Decided
from frostalert.cycle.limits import limit_on
from frostalert.messages.task_words import job_words
from frostalert.messages.wording import Wording
from frostalert.model.job_sheet import Job, JobSheet
from frostalert.model.plan import Task, TaskKind


def job_sheet(decided: Decided, *, has_page: bool) -> JobSheet:
    """Return the jobs of the nights that are meant by "tonight", and the limits.

    Without a page to show them on there are the limits alone.
    """
    nights = decided.nights
    farm, made_utc = nights.farm, nights.assessment.issued_utc
    wording = Wording(farm.site, made_utc)
    meant = [record.night for record in decided.meant]
    jobs = [
        job
        for night in (meant if has_page else ())
        for job in _jobs(decided, night, wording)
    ]
    return JobSheet(
        night=meant[-1],
        made_utc=made_utc,
        jobs=tuple(jobs),
        limits=tuple(limit_on(farm, block, meant[-1]) for block in farm.blocks),
    )


def _jobs(decided: Decided, night: date, wording: Wording) -> list[Job]:
    """Return the jobs of one night, by hour."""
    plan = decided.plans.of(night)
    jobs: dict[str, Job] = {}
    for task in plan.tasks if plan is not None else ():
        key = job_key(task)
        jobs[key] = Job(
            night=night, key=key, who=task.who, words=job_words(task, wording)
        )
    return list(jobs.values())


def job_key(task: Task) -> str:
    """Return what names a task: a tick stays at it though its hour moves a little."""
    parts = [task.kind.value, task.equipment, *task.blocks]
    if task.kind is TaskKind.READ:
        parts.append(f"{task.start_utc:%H:%M}")
    return "|".join(parts)
