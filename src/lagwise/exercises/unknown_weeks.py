"""Task 2: what was set aside, what is unknown, and what becomes of it."""

from __future__ import annotations

import pandas as pd

from lagwise.exercises.task import Key, Part, Slip, Task
from lagwise.exercises.windows import find, shown, usual_key
from lagwise.exercises.world import World

LOADS = ("zero", "missing", "usual")


def table(world: World) -> pd.DataFrame:
    """One person's steps up to a marked one, with an unknown step among those before it."""
    return shown(world, find(world, gap=True), following=0)


def set_aside(world: World) -> Key:
    """Rows in quarantine, over all tables."""
    counts, remarks = world.caseload.counts, world.caseload.remarks
    n = int(counts["quarantined"].sum())
    slips = [
        Slip(int(counts["used"].sum()), "These are the rows that were used."),
        Slip(
            int(counts["read"].sum()),
            "These are all rows that were read. Each of them was then used or set aside.",
        ),
        *(
            Slip(int(count), f"These are the rows set aside in {name} alone. There is more than one table.")
            for name, count in zip(counts["table"], counts["quarantined"], strict=True)
            if count
        ),
        Slip(
            len(remarks),
            "These are the remarks: what was noticed and kept. Rows set aside stand in another column.",
        ),
        Slip(
            0,
            "A table may look clean after it was read, because what broke a rule is no longer in it. The summary counts it.",
        ),
    ]
    return Key(n, "Every row that was read is used or set aside, and the two add up.", tuple(slips))


def unknown(world: World) -> Key:
    """Person-steps whose training state is unknown."""
    frame, step = world.loads, world.step
    states = frame["state"].value_counts()
    n, rest = int(states.get("unknown", 0)), int(states.get("rest", 0))
    slips = (
        Slip(n + rest, f"Rest and unknown were added up. In a {step} of rest it is recorded that nothing was done; in an unknown one nothing is recorded."),
        Slip(rest, f"These are the {step}s of rest: it is recorded that nothing was done."),
        Slip(int(states.get("trained", 0)), f"These are the {step}s with training."),
        Slip(int(frame["jump"].isna().sum()), f"These are the {step}s without a jump. Some have a load and lack the {step}s before it."),
        Slip(int(frame["pain"].isna().sum()), f"These are the {step}s without a pain rating."),
        Slip(world.panel.states.get("would_change_under_other_reading", -1), f"These are the {step}s that the other reading of the plan would change, which is a part of them."),
        Slip(0, f"Counted as zero, unknown {step}s would be no {step}s at all. The panel keeps them, as unknown."),
    )  # fmt: skip
    return Key(
        n, f"So many person-{step}s have no record of training. Nobody knows what was done in them.", slips
    )


def load_is(world: World) -> Key:
    """What stands as load where there are check-ins and no sessions: decided by the plan."""
    step = world.step
    world.loads  # noqa: B018 - says in words when no training is recorded
    if world.study.load.no_sessions_means == "rest":
        right, value = (
            f"This plan says that a {step} without sessions was rest, so its load is zero by declaration.",
            "zero",
        )
    else:
        right, value = (
            f"The plan does not say that such a {step} was rest, so its load stays missing.",
            "missing",
        )
    says = {
        "zero": f"The {step} seems to have been counted as zero. A forgotten entry would then turn into a {step} off, and the {step} after it into a leap.",
        "missing": f"The plan says what a {step} without sessions means. Look at no_sessions_means again.",
        "usual": f"A {step} nobody wrote down is not filled in with what the person usually did, either.",
    }
    return Key(value, right, tuple(Slip(word, says[word]) for word in LOADS if word != value))


def usual(world: World) -> Key:
    """Usual load where one of the steps before is unknown."""
    return usual_key(find(world, gap=True), world)


TASK = Task(
    2,
    "What is set aside or unknown",
    table,
    (
        Part("set_aside", "count", set_aside), Part("unknown", "count", unknown), Part("load_is", "choice", load_is, LOADS),
        Part("usual", "number", usual),
    ),
    (
        "Two different things are called missing here. A row can be set aside because it breaks a rule. A week can be unknown because there is no row at all.",
        "Set aside is counted in the summary, one line for each table. Unknown is counted in the panel, one of three training states. "
        "Neither of them is a zero.",
        "Another person, other numbers. The four weeks before held 20, unknown, 26 and 20 sets. The usual load is made of the three that are known: "
        "66 / 3 = 22. Dividing by four, or reaching back for a fifth week, would make up something nobody wrote down.",
    ),
)  # fmt: skip
