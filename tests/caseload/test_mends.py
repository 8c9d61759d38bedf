"""Untidy folders whose owner does what every mend says, to the letter: nothing is lost, named, or turned back."""

import re
import tomllib
from dataclasses import dataclass, field
from itertools import pairwise

import pandas as pd
import pytest

from lagwise.caseload import check, read
from lagwise.caseload.study_text import toml_key, toml_value
from lagwise.core.errors import CaseloadError

WRITE = re.compile(
    r'[Ww]rite ((?:\w+ = (?:"(?:[^"\\]|\\.)*"|\d+|\{.*?\})(?: (?:and|or) )?)+)(?: \(or [^)]*\))? under \[([\w.]+)\]'
)
TAKES_AWAY = re.compile(r"\b(?:delete|remove|drop|keep one|throw)\b", re.IGNORECASE)
PEOPLE, WEEKS = 5, 6
NAMES = ["Zora Quill", "Anna Voss", "Peter Lindt", "Mia Orb", "Jan Falk"]
ARMS = ["usual care with advice and home exercises", "heavy slow resistance twice a week"]
LONG = 'How bad was the "worst" pain of this week, from 0 (none at all) to 10 (the most you can imagine)?'


def day(p: int, w: int) -> str:
    return (pd.Timestamp(2024, 1, 1) + pd.Timedelta(days=7 * w + p)).strftime("%Y-%m-%d")


CELLS = {
    "code": lambda p, w: f"K{p}X", "date": day, "nrs": lambda p, w: (p * 3 + w * 2) % 8, "worry": lambda p, w: (p + w) % 6,
    "stress": lambda p, w: (2 * p + w) % 9, "hours": lambda p, w: 6 + (p + w) % 3, "name": lambda p, w: NAMES[p],
    "phone": lambda p, w: f"0171 55512{p}{p}", "us_phone": lambda p, w: f"(555) 010-12{p}{p}", "mail": lambda p, w: f"k{p}@q.example",
    "born": lambda p, w: f"{1950 + 7 * p}-0{p + 1}-11", "insurance": lambda p, w: f"A12345678{p}", "record": lambda p, w: 40012345 + p,
    "dose": lambda p, w: (p + w) % 2, "goal": lambda p, w: 2, "street": lambda p, w: f"Elm Row {p}", "arm": lambda p, w: ARMS[p % 2],
    "german": lambda p, w: pd.Timestamp(day(p, w)).strftime("%d.%m.%Y"), "exercise": lambda p, w: "press", "three": lambda p, w: 3,
    "kg": lambda p, w: 40 + 5 * p, "set": lambda p, w: 1, "time": lambda p, w: "07:30", "yes": lambda p, w: "yes" if w == 3 else "no",
    "number": lambda p, w: p + 101, "effort": lambda p, w: 7,
}  # fmt: skip


def table(sep: str = ",", weeks: int = WEEKS, times: int = 1, **columns: str) -> str:
    return named([(header.replace("__", " "), kind) for header, kind in columns.items()], sep, weeks, times)


def named(columns, sep: str = ",", weeks: int = WEEKS, times: int = 1) -> str:
    quote = lambda text: '"' + text.replace('"', '""') + '"' if re.search(rf'["{sep}]', text) else text  # noqa: E731
    rows = [sep.join(quote(header) for header, _ in columns)]
    for p in range(PEOPLE):
        for w in range(weeks):
            rows += [sep.join(quote(str(CELLS[kind](p, w))) for _, kind in columns)] * times
    return "\n".join(rows) + "\n"


PLAIN = table(person="code", date="date", pain="nrs")
LOG = table(person="code", date="date", exercise="exercise", sets="three", load_kg="kg")
BY_SET = table(times=3, person="code", date="date", exercise="exercise", load_kg="kg")


@dataclass(frozen=True)
class Untidy:
    """A folder; headers that no mend may suggest; what the tables must hold in the end: table -> column -> kind of cell."""

    tables: dict[str, str]
    never: tuple[str, ...] = ()
    ends: dict[str, dict[str, str]] = field(default_factory=lambda: {"checkins": {"pain": "nrs"}})
    stuck: str = ""


FOLDERS = {
    "code beside phone and name": Untidy(
        {"checkins": table(Phone="phone", Name="name", Code="code", Date="date", NRS="nrs")}, ("Phone", "Name"),
        {"checkins": {"person": "code", "pain": "nrs"}},
    ),
    "American phones": Untidy({"checkins": table(Contact="us_phone", ID="code", day="date", pain="nrs")}, ("Contact",)),
    "worry about pain, and pain": Untidy(
        {"checkins": named([("person", "code"), ("date", "date"), ("Worry about pain", "worry"), ("NRS worst (0-10)", "nrs")])},
        ends={"checkins": {"pain": "nrs", "worry": "worry"}},
    ),
    "worry about pain without pain": Untidy(
        {"checkins": named([("person", "code"), ("date", "date"), ("stress", "stress"), ("Worry about pain", "worry")])},
        ends={"checkins": {"worry": "worry", "pain": "", "stress": "stress"}},
    ),
    "one row per set": Untidy({"checkins": PLAIN, "sessions": BY_SET}, ends={"sessions": {"load_kg": "kg"}}),
    "one row per set, numbered": Untidy(
        {"checkins": PLAIN, "sessions": table(times=2, person="code", date="date", exercise="exercise", sets="set", load_kg="kg")},
        ends={"sessions": {"load_kg": "kg"}},
    ),
    "a pasted export": Untidy({"checkins": PLAIN, "sessions": LOG + LOG.split("\n", 1)[1]}),
    "trial arms": Untidy({"checkins": PLAIN, "people": table(weeks=1, person="code", arm="arm", sex="goal")}),
    "German": Untidy(
        {"checkins": named([("Versichertennr", "insurance"), ("Handynr.", "phone"), ("Teilnehmer-Kürzel", "code"), ("Geburtsdatum", "born"), ("Datum", "german"), ("Schmerz (NRS 0-10)", "nrs"), ("Schlafdauer", "hours")], sep=";")},
        ("Versichertennr", "Handynr.", "Geburtsdatum"), {"checkins": {"person": "code", "pain": "nrs", "sleep_hours": "hours"}},
    ),
    "Spanish": Untidy(
        {"checkins": named([("Correo", "mail"), ("Apellido", "name"), ("Código", "code"), ("Fecha", "date"), ("Miedo al dolor", "worry"), ("Dolor", "nrs")])},
        ("Correo", "Apellido"), {"checkins": {"pain": "nrs", "worry": "worry"}},
    ),
    "no code at all": Untidy(
        {"checkins": table(Phone="phone", Name="name", Date="date", pain="nrs")}, ("Phone", "Name"), {}, "Make up a code"
    ),
    "a patient ID that is a code": Untidy({"checkins": named([("Patient ID", "code"), ("date", "date"), ("pain", "nrs")])}),
    "a patient ID that is a record number": Untidy(
        {"checkins": named([("Patient ID", "record"), ("date", "date"), ("pain", "nrs")])}, ("Patient ID",), {}, "Make up a code"
    ),
    "a header that says nothing": Untidy(
        {"checkins": table(Column1="code", date="date", pain="nrs", place="exercise"), "sessions": table(Field__3="code", date="date", exercise="exercise", sets="three")},
        ends={"checkins": {"person": "code"}, "sessions": {"person": "code", "sets": "three"}},
    ),
    "mails under a plain header": Untidy(
        {"checkins": table(member="mail", number="number", date="date", pain="nrs"), "sessions": table(member="mail", number="number", date="date", sets="three")},
        ("member",), {}, "person",
    ),
    "names under a plain header": Untidy({"checkins": table(client="name", kürzel="code", date="date", pain="nrs")}, ("client",)),
    "sleep and stress in words": Untidy(
        {"checkins": named([("person", "code"), ("date", "date"), ("pain", "nrs"), ("Sleep (h)", "hours"), ("Sleep quality 0-10", "worry"), ("Stress at work", "stress")])},
        ends={"checkins": {"sleep_hours": "hours", "sleep_quality": "worry", "stress": "stress"}},
    ),
    "tablets and goals": Untidy(
        {"checkins": named([("person", "code"), ("date", "date"), ("Pain medication", "dose"), ("Pain goal", "goal"), ("stress", "stress")])},
        ends={"checkins": {"pain": "", "stress": "stress"}},
    ),
    "two pains": Untidy(
        {"checkins": named([("person", "code"), ("date", "date"), ("NRS worst", "nrs"), ("NRS least", "dose")])}
    ),
    "birth and training dates": Untidy(
        {"checkins": named([("person", "code"), ("Date of birth", "born"), ("Training date", "date"), ("pain", "nrs")])}, ("Date of birth",)
    ),
    "birth dates under a plain header": Untidy(
        {"checkins": named([("person", "code"), ("Day 0", "born"), ("Filled in on day", "date"), ("pain", "nrs")])}, ("Day 0",)
    ),
    "a question as header": Untidy({"checkins": named([("person", "code"), ("date", "date"), (LONG, "nrs")])}),
    "a header twice": Untidy(
        {"checkins": named([("person", "code"), ("date", "date"), ("pain", "nrs"), ("pain", "dose")])}, ends={}, stuck="another name"
    ),
    "two files of one table": Untidy(
        {"checkins": PLAIN, "sessions.csv": LOG, "sessions.tsv": LOG.replace(",", "\t")}, ends={"sessions": {"sets": "three"}}
    ),
    "the same rating twice a day": Untidy({"checkins": table(times=2, person="code", date="date", pain="nrs")}),
    "people before and after": Untidy({"checkins": PLAIN, "people": table(weeks=2, person="code", months_with_pain="nrs")}),
    "title rows": Untidy({"checkins": f"Export of March,,\n,,\n{PLAIN}"}),
    "999 for not recorded": Untidy({"checkins": PLAIN + "K0X,2024-03-30,999\nK1X,2024-03-30,999\n"}),
    "one code in two spellings": Untidy({"checkins": PLAIN + "k0x,2024-03-30,3\n"}),
    "totals at the foot": Untidy({"checkins": PLAIN + "Total,,90\n"}),
    "addresses": Untidy({"checkins": PLAIN, "people": table(weeks=1, Street="street", Participant="code", sex="goal")}, ("Street",)),
}  # fmt: skip


def mends(root) -> tuple[list[str], object]:
    """All that the reading and the check say would mend the folder; and the caseload, or None."""
    try:
        caseload = read(root)
    except CaseloadError as error:
        return [error.mend], None
    return [*caseload.quarantine["mend"], *caseload.remarks["mend"], *check(caseload)["mend"]], caseload


def written(texts: list[str]) -> dict[str, dict[str, object]]:
    """What the mends say to write: section -> key -> value; of 'a or b' the first. Two values for one key fail."""
    out: dict[str, dict[str, object]] = {}
    for text in dict.fromkeys(texts):
        for what, section in WRITE.findall(text):
            for key, value in tomllib.loads(re.split(r" (?:or|and) (?=\w+ = )", what.strip())[0]).items():
                assert out.setdefault(section, {}).setdefault(key, value) == value, (section, key)
    return out


def write_study(root, plan: dict[str, dict[str, object]]) -> None:
    lines = ['title = "Elbow pain in lifters"']
    for section, keys in plan.items():
        lines += [
            f"[{section}]",
            *(
                f"{toml_key(k)} = {toml_value(v) if not isinstance(v, dict) else inline(v)}"
                for k, v in keys.items()
            ),
        ]
    (root / "study.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def inline(value: dict) -> str:
    return "{ " + ", ".join(f"{k} = {toml_value(v)}" for k, v in value.items()) + " }"


@pytest.mark.parametrize("name", FOLDERS)
def test_a_mend_followed_to_the_letter(folder, name):
    one = FOLDERS[name]
    root = folder(**one.tables)
    plan: dict[str, dict[str, object]] = {}
    used = [0]
    for _ in range(8):
        texts, caseload = mends(root)
        for text in texts:
            assert not TAKES_AWAY.search(text), text
        before = repr(plan)
        for section, keys in written(texts).items():
            assert not set(map(str, keys.values())) & set(one.never), keys
            for key, value in keys.items():
                assert plan.setdefault(section, {}).setdefault(key, value) == value, (section, key)
        used.append(0 if caseload is None else int(caseload.counts["used"].sum()))
        if repr(plan) == before:
            break
        write_study(root, plan)
    else:
        raise AssertionError("no end of mends")
    assert all(later >= earlier for earlier, later in pairwise(used)), used
    if one.stuck:
        assert caseload is None
        assert any(one.stuck in text for text in texts), texts
        return
    assert caseload is not None, texts
    for where, columns in one.ends.items():
        frame = getattr(caseload, where)
        for column, kind in columns.items():
            if not kind:
                assert frame[column].isna().all(), column
                continue
            wanted = {str(CELLS[kind](p, w)) for p in range(PEOPLE) for w in range(WEEKS)}
            got = {f"{v:g}" if isinstance(v, float) else str(v) for v in frame[column].dropna()}
            assert wanted <= got, (column, got)
    private = {str(CELLS[kind](p, 0)) for kind in ("name", "phone", "mail") for p in range(PEOPLE)}
    for text in texts:
        assert not any(value in text for value in private), text


def test_ordinary_sets_are_no_copies_and_a_pasted_export_is(folder):
    codes = set(read(folder(checkins=PLAIN, sessions=BY_SET)).remarks["code"])
    assert "repeated_sessions" not in codes
    assert "repeated_rows" not in set(check(read(folder(checkins=PLAIN, sessions=BY_SET)))["code"])
    pasted = read(folder(checkins=PLAIN, sessions=BY_SET + BY_SET.split("\n", 1)[1]))
    remark = pasted.remarks.set_index("code").loc["repeated_sessions"]
    assert remark["count"] == PEOPLE * WEEKS
    assert "30 rows would go" in remark["mend"]


def test_rows_that_differ_in_a_column_not_used_are_no_copies(folder):
    rows = "".join(f"a,2024-01-01,press,2,40,{10 + i}:00\n" for i in range(3))
    caseload = read(
        folder(
            checkins="person,date\na,2024-01-01\n",
            sessions=f"person,date,exercise,sets,load_kg,stamp\n{rows}",
        )
    )
    assert "repeated_sessions" not in set(caseload.remarks["code"])


def test_trial_arms_are_no_free_text_and_notes_are(folder):
    caseload = read(folder(checkins=PLAIN, people=FOLDERS["trial arms"].tables["people"]))
    assert caseload.remarks[["code", "column"]].to_numpy().tolist() == [["ignored_column", "arm"]]


def test_a_mend_says_what_it_would_add(folder):
    rows = named([("person", "code"), ("date", "date"), ("NRS worst (0-10)", "nrs")])
    for days, steps in ((7, f"weeks: {PEOPLE * WEEKS}"), (14, f"14-day steps: {PEOPLE * WEEKS // 2}")):
        (mend,) = read(folder(f"[clock]\nstep_days = {days}", checkins=rows)).remarks["mend"]
        assert (
            f"rows that would then have it: {PEOPLE * WEEKS}, of people: {PEOPLE}, of their {steps}" in mend
        )


def test_the_code_is_the_column_that_other_tables_share(folder):
    root = folder(
        checkins=named(
            [
                ("Row ID", "nrs"), ("Member", "number"), ("Client code", "code"), ("date", "date"),
                ("pain", "nrs")]), sessions=LOG,
    )  # fmt: skip
    with pytest.raises(CaseloadError, match="no column 'person'") as caught:
        read(root)
    assert caught.value.mend.startswith('Write person = "Client code" under [tables.checkins.columns]')
    assert "5 of its 5 codes stand in another table too" in caught.value.mend
