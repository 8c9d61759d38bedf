"""What the command line says of itself. Nothing heavy is imported: `--help` is answered at once."""

from __future__ import annotations

from collections.abc import Iterable

CAUTION = "It describes groups. It is no medical device, advises nobody and does not replace licensed care."
ABOUT = (
    "Ask a pooled, coded training log what tends to come before a worse week, and write the answer up. "
    f"{CAUTION}"
)
_WHOLE = "written whole or not at all."

ARGUMENTS = {
    "folder": "A caseload folder: study.toml and its tables.",
    "kind": "clinic, no_effect or another kind; an unknown word lists them.",
    "new": "A new or empty folder.",
    "findings": "findings.json of an earlier report.",
    "new report": "The later report: its folder, or its findings.json.",
    "old report": "The earlier one.",
    "draft": "A draft: .md, .txt, .html or .docx.",
}
OPTIONS = {
    "version": "Show the version.",
    "debug": "Show the traceback of an error.",
    "seed": "Seed of everything random.",
    "quick": "Leave out the Bayesian model.",
    "paper": "Page of the PDF and the Word document.",
    "workers": "Local processes; all cores by default. Results do not depend on it.",
    "cluster": "A running Dask scheduler to send the work to, with the data it needs.",
    "for-person": "Also a private page for this person, in plain words. Can be given again.",
    "template": "A folder of your own sections, such as methods.md, to stand in the documents.",
    "html": "Where the page goes; ./check.html when not given, never into FOLDER.",
    "watch": "Check again whenever a file of FOLDER is saved; Ctrl-C ends it.",
    "share": "Leave out single people and small cells, for passing on.",
    "spelling": "Of everything that is written.",
    "since": "An earlier report to set this one beside: its folder, or its findings.json.",
    "only": "Beginning of a notebook's name, such as 03; may be given again.",
    "show-code": "The code of the pages stands open; else it opens on a click.",
    "from": "Existing spreadsheets or folders of them: copies, and a draft plan of what is in them.",
    # Where each command writes.
    "demo out": "Folder for the case series.",
    "report out": f"Folder for the report; {_WHOLE}",
    "plan out": "Folder for plan.html, plan.csv, plan.json and the figure.",
    "notebooks out": f"Folder for notebooks and pages; {_WHOLE}",
    "synthesise out": ARGUMENTS["new"],
    "deidentify out": "A new or empty folder outside the caseload.",
    "compare out": f"Folder for compare.html and compare.md, beside NEW when not given; {_WHOLE}",
    "write out": f"Folder for the documents; {_WHOLE}",
    "write spelling": "Of everything that is written; as the report when not given.",
    # A plan, and what it assumes.
    "people": "People, one number or several.",
    "weeks": "Weeks that each may be followed, one number or several.",
    "effect": "True differences in points per primary contrast. [default: 0 0.5]",
    "study": "A study.toml: contrast, practically zero, exposures, usual load, flare rise. [default: the "
    "defaults]",
    "caseloads": "Simulated caseloads per cell.",
    "rating-caseloads": "Caseloads rated weekly and daily, with rating error allowed for; 0 for none. "
    "[default: 3 of 100]",
    "missing-weeks": "Share of weeks not written down.",
    "feedback": "Share by which load is lower per point of pain; 0: load does not answer pain.",
    "ratings": "How often people rate: mixed, daily, some_days or weekly.",
    "leaving": "Share of people who stop recording, per week.",
    "pain-level": "Mean pain, 0 to 10.",
    "pain-sd": "SD of a week's pain for no recorded reason, points.",
    "load-sd": "SD of load between weeks, log scale.",
    "effect-sd": "SD of the difference between people, points.",
    "weekly-rating-sd": "SD of a rating for a whole week around its pain, points.",
    "daily-rating-sd": "SD of a day's rating around its week's pain, points.",
    # What a copy without names leaves out.
    "mapping": "Also keep old and new codes, in this new file, outside --out.",
    "relative": "Let everybody start in the same week, instead of random shifts.",
    "coarser-loads": "Weights to the nearest 10 kg, loads of weeks to two figures.",
    "rounded-ratings": "Ratings from 0 to 10 in steps of 2; sleep and effort whole.",
    "drop": "Leave a column out: COLUMN or TABLE.COLUMN; may be repeated.",
    "weekly-sums": "Sums and means of weeks instead of sessions and check-ins.",
}

LINES = {
    "watching": "Waiting for a file to be saved; Ctrl-C ends this.",
    "report_cluster": "With --cluster data leave this machine: coded weekly courses of people, which are "
    "personal data, go to {cluster} and its workers.",
    "plan_cluster": "With --cluster the simulation runs on the workers of {cluster}; the numbers are "
    "simulated, no data of people are sent.",
    "shared_in": "Recorded, readable by you alone, in {place}: a later version that only 1 to 4 people set "
    "apart from this one is refused.",
    "person_page": "Page for one person, private: {page}.html (reading grade {grade:.1f}, Flesch-Kincaid)",
    "fill": "Fill the tables, then: {command}",
    "deidentified": "Every kind of knowledge, and how it is counted: {page}\n"
    "Written: {out}\nThese remain personal data; local law and your data-protection officer decide.",
    "lowers": "What lowers it: of 100 such cases, those that fit one person only",
    "recognised": "What could still be recognised",
    "no_remark": "Nothing found; the rules miss what is said in other words.",
}
"""Lines that commands print, with what stands in their braces."""
STAGES = {
    "read": "reading the caseload",
    "panel": "building the panel",
    "mixed": "fitting the mixed models",
    "ordinal": "sampling the ordinal model",
    "flares": "asking what comes before flare-ups",
    "challenges": "trying to break the result",
    "write": "writing the case series",
    "records": "simulating records",
}
"""What is being done, for a bar of progress."""
CLUSTER = {"challenges run on": "workers of a Dask cluster named by the author"}
"""The setting of a report whose challenges ran on other machines."""


def left_out(challenges: Iterable[str]) -> dict[str, str]:
    """The setting of a quick report: that it has no Bayesian model and not these challenges."""
    left = ("the Bayesian model", *(name.replace("_", " ") for name in challenges))
    return {"left out by --quick": ", ".join(left)}
