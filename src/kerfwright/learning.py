"""Puts what past runs took into a plan, and says so."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.decisions import Alternative, Decision
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity, number_of
from kerfwright.motion.expected_time import PastRuns, past_runs
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.shop.overruling import setting_overrules
from kerfwright.shop.run_statistics import COVERED, Ratios
from kerfwright.shop.runs import RecordedRun, RunsOf

BY_RUNS, BY_CLOCK = "past runs", "clock alone"


def learned(plan: Plan, runs_of: RunsOf | None, *, wanted: bool) -> Plan:
    """Return the plan with the times that past runs of its machine lead to expect.

    Without ``runs_of`` the plan stays as it is. Where records cannot be read the times stay the
    clock's, and a finding says so: a plan does not fail for its past. Where the order does not
    want it (``learn = false``), times stay the clock's and a decision tells what was left out.
    """
    if runs_of is None:
        return plan
    try:
        past = past_runs(runs_of(plan.machine.name), plan.machine)
    except KerfwrightError as error:
        return replace(plan, findings=(*plan.findings, _unread(error)))
    if wanted:
        plan = replace(
            plan,
            past_runs=past,
            sheets=tuple(_expecting(sheet, past) for sheet in plan.sheets),
            findings=(*plan.findings, *_findings(past, plan.machine.name)),
        )
    if past.ratios is None:
        return plan
    return replace(plan, decisions=(*plan.decisions, _decision(past, past.ratios, wanted=wanted)))


def _expecting(sheet: PlannedSheet, past: PastRuns) -> PlannedSheet:
    by_process_s = {process.value: s for process, s in sheet.times_by_process_s.items()}
    return replace(sheet, expected=past.expected(sheet.times.total_s, by_process_s))


def _unread(error: KerfwrightError) -> Finding:
    return Finding(
        Severity.WARN,
        "records/not-read",
        f"The records of past runs could not be read, so times are the clock's own. {error.file}: "
        f"{error.thing}",
        error.remedy,
    )


def _decision(past: PastRuns, ratios: Ratios, *, wanted: bool) -> Decision:
    factors = [f"× {ratio:.2f} for {process}" for process, ratio in past.own_ratios.items()]
    factors.append(f"× {ratios.median:.2f}{' for what else there is' if factors else ''}")
    why = (
        f"the median of {number_of(ratios.runs, 'recorded run')} took {ratios.median:.2f} times "
        "what the clock computed"
    )
    if not wanted:
        why = f"the order asks for it, although {why}"
    scatter = f"{COVERED:.0%} of new runs within × {ratios.low:.2f} and × {ratios.high:.2f} of that"
    return Decision(
        what="times shown",
        chosen=BY_RUNS if wanted else BY_CLOCK,
        alternatives=(
            Alternative(BY_RUNS, note=f"{', '.join(factors)}; {scatter}"),
            Alternative(BY_CLOCK, note="as the machine file has it, without a range"),
        ),
        why=why,
        override=f"learn = {'false' if wanted else 'true'} in [settings]",
        code="records/learning",
        overrules=setting_overrules(
            "learn",
            {BY_RUNS: True, BY_CLOCK: False},
            chosen=BY_RUNS if wanted else BY_CLOCK,
            usual=True,
        ),
    )


def _findings(past: PastRuns, machine: str) -> list[Finding]:
    findings = [_far_off(one, past) for one in past.set_aside]
    if past.other_clock and past.ratios is None:
        runs = number_of(past.other_clock, "recorded run")
        findings.append(
            Finding(
                Severity.NOTE,
                "records/other-clock",
                f'{runs} of "{machine}" {"was" if past.other_clock == 1 else "were"} computed '
                "from other machine settings and cannot tell how far the present ones are off.",
                "Record new runs with kerfwright record; from the third on they count.",
                count=past.other_clock,
            )
        )
    return findings


def _far_off(one: RecordedRun, past: PastRuns) -> Finding:
    run = one.run
    expected = past.expected(run.computed_s, run.by_process_s)
    off = run.actual_s / expected.total_s if expected is not None else run.ratio
    return Finding(
        Severity.NOTE,
        "records/far-off-run",
        f'Run {one.number} ("{run.program}", {run.ran_on}) took {off:.2f} times what the other '
        "runs lead to expect and is set aside from the range.",
        f"If it was mistyped or the machine stood still, take it out: kerfwright record --forget "
        f"{one.number}",
    )
