import pickle
import tomllib

import pytest

from lagwise.caseload import load_study
from lagwise.caseload.study_file import study_from
from lagwise.caseload.study_text import study_text
from lagwise.core import columns
from lagwise.core.errors import CaseloadError, StudyError
from lagwise.core.study import Study


def test_title_alone_gives_every_default(folder):
    assert load_study(folder()) == Study(title="Elbow pain in lifters")


def test_a_ratio_that_nothing_reads_is_taken_and_changes_nothing(folder):
    plain, old = (
        load_study(folder(f"[load]\nusual_steps = 5\n{ratio}")) for ratio in ("", "spike_ratio = 1.3")
    )
    assert old == plain and old.plan_hash() == plain.plan_hash() and not old.changes_from(plain)
    assert "spike_ratio" not in old.plan()["load"]
    printed = "850d9012876ce47e4f4b421b12990fc31a161a9aa3ffccc7750add9ef79140c4"
    assert load_study(folder("")).plan_hash() == printed


EVERYTHING = """
setting = "Two gyms"
clock = { step_days = 1, week_starts = "Sunday", checkin_time = "morning" }
load = { measure = "tonnage", usual_steps = 6, usual_needs = 2, spike_ratio = 1.3, no_sessions_means = "rest", hard_effort = 7.5, near_failure_effort = 9.5 }
pain = { summary = "worst", rated = "start", flare_rise = 1.5, important_change = 2 }
analysis = { exposures = ["stress", "jump"], primary = "stress", primary_contrast = 1, practically_zero = 0.25 }
groups = { elbow = ["Curl ", "chin-up"] }
scores = { fear = { low = 0, high = 66 } }
privacy = { consent_single_person_plots = true }
repair = { yes_no_words = false }
[tables.checkins]
file = "export.csv"
sep = "tab"
decimal = ","
encoding = "cp1252"
date_format = "%d.%m.%Y"
header_row = 3
columns = { pain = "NRS (0-10)" }
[tables.people]
columns = { fear = "Total" }
[tables.sessions]
units = { load_kg = "lb" }
wide = { minutes = { Mon = 0, Tue = 1 } }
"""


MORE = """
reviewed = false
clock = { step_days = 366, study_start = 2025-09-01, first_day = 0 }
load = { measure = "measured", unit = "AU" }
events = { kinds = ["New programme"] }
blocks = { autumn = ["2025-09-01", 2025-11-30] }
exercises = { same = { "Row " = ["rows", "Cable  row"] } }
[tables.sessions]
files = ["Proband *.csv", "late.csv"]
person_from = "file"
fill_down = ["date"]
ignore = ["my notes"]
day_ends = 04:00:00
[tables.people.bands]
age_band = 10
[tables.weeks]
sheets = "*"
date_format = "day"
wide = { pain = { T0 = 0, T1 = 84 } }
"""


def test_keys_for_shapes_of_practices(folder):
    study = load_study(folder(MORE))
    assert not study.reviewed and study.numbered is False and study.clock.start.isoformat() == "2025-09-01"
    assert (study.clock.step_days, study.load.unit, study.events.kinds) == (366, "AU", ("new_programme",))
    assert dict(study.blocks) == {"autumn": ("2025-09-01", "2025-11-30")}
    assert dict(study.exercises) == {"row": ("rows", "cable row")}
    source, weeks = study.tables["sessions"], study.tables["weeks"]
    assert (source.files, source.person_from) == (("Proband *.csv", "late.csv"), "file")
    assert (source.fill_down, source.ignore, source.day_ends) == (("date",), ("my notes",), "04:00")
    assert study.tables["people"].bands == {"age_band": 10}
    assert (weeks.sheets, weeks.date_format, dict(weeks.wide["pain"])) == (("*",), "day", {"T0": 0, "T1": 84})
    assert study_from(tomllib.loads(study_text(study))).plan() == study.plan()
    assert study_from({"title": study.title, "reviewed": False}).plan_hash() == Study(study.title).plan_hash()
    assert [c.name for c in columns.tables(study)["sessions"]][-1] == "load"


def test_every_section_is_read(folder):
    study, given = load_study(folder(EVERYTHING)), tomllib.loads(EVERYTHING)
    given["clock"]["week_starts"] = "sunday"
    del given["load"]["spike_ratio"]
    for section in ("clock", "load", "pain", "analysis"):
        read = {key: getattr(getattr(study, section), key) for key in given[section]}
        assert read == given[section] | ({"exposures": ("stress", "jump")} if section == "analysis" else {})
    assert dict(study.groups) == {"elbow": ("curl", "chin-up")}
    assert dict(study.scores) == {"fear": (0.0, 66.0)}
    assert study.consent_single_person_plots
    assert dict(study.repair) == {"yes_no_words": False}
    checkins = {"columns": {}, **given["tables"]["checkins"], "sep": "\t"}
    assert {key: getattr(study.tables["checkins"], key) for key in checkins} == checkins
    assert dict(study.tables["people"].columns) == {"fear": "Total"}
    assert dict(study.tables["sessions"].units) == {"load_kg": "lb"}
    assert dict(study.tables["sessions"].wide["minutes"]) == {"Mon": 0, "Tue": 1}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("titel = 'x'", "Did you mean 'title'"),
        ("[clok]\nstep_days = 7", "Did you mean 'clock'"),
        ("[clock]\nstep_day = 7", "Did you mean 'step_days'"),
        ("step_days = 7", "It belongs under [clock]"),
        ("[pain]\nsumary = 'mean'", "Did you mean 'summary'"),
        ("[analysis]\nexposure = ['jump']", "Did you mean 'exposures'"),
        ("[privacy]\nconsent = true", "consent_single_person_plots"),
        ("[repair]\nyesno = false", "yes_no_words"),
        ("[tables.checkin]\nfile = 'x.csv'", "Did you mean 'checkins'"),
        ("[tables.checkins]\nfile_name = 'x.csv'", "Did you mean 'file'"),
        ("[tables.checkins]\nfill_down = ['date', 'persn']", "Did you mean 'person'"),
        ("[exercises]\nsam = { row = ['rows'] }", "Did you mean 'same'"),
        ("review = false", "Did you mean 'reviewed'"),
        ("[tables.checkins.columns]\npian = 'x'", "Did you mean 'pain'"),
        ("[tables.sessions.units]\nload = 'lb'", "Did you mean 'load_kg'"),
        ("[scores.fear]\nlow = 0\nhihg = 3", "Did you mean 'high'"),
    ],
)
def test_unknown_keys_name_the_nearest_known_one(folder, text, said):
    with pytest.raises(StudyError, match="unknown key") as caught:
        load_study(folder(text))
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("text", "key", "legal"),
    [
        ("setting = 3", "setting = 3", "text"),
        ("[clock]\nstep_days = 0", "clock.step_days = 0", "1 to 366"),
        ("[clock]\nstep_days = 367", "clock.step_days = 367", "1 to 366"),
        ("[clock]\nstep_days = 7.0", "clock.step_days = 7.0", "whole number"),
        ("[clock]\nstep_days = true", "clock.step_days = True", "whole number"),
        ("[clock]\nweek_starts = 'noday'", "clock.week_starts", "monday"),
        ("[clock]\ncheckin_time = 'noon'", "clock.checkin_time", "evening"),
        ("[load]\nmeasure = 'volume'", "load.measure", "tonnage"),
        ("[load]\nusual_steps = 0", "load.usual_steps", "1 to 52"),
        ("[load]\nusual_needs = 5", "load.usual_needs = 5", "usual_steps = 4"),
        ("[load]\nspike_ratio = 1", "load.spike_ratio", "1.01 to 10"),
        ("[load]\nspike_ratio = nan", "load.spike_ratio", "1.01 to 10"),
        ("[load]\nno_sessions_means = 'zero'", "load.no_sessions_means", "rest, unknown"),
        ("[load]\nhard_effort = 'high'", "load.hard_effort", "0 to 10"),
        ("[pain]\nsummary = 'max'", "pain.summary", "worst"),
        ("[pain]\nrated = 'middle'", "pain.rated", "end, start"),
        ("[pain]\nflare_rise = inf", "pain.flare_rise", "to 10"),
        ("[analysis]\nexposures = []", "analysis.exposures", "jump"),
        ("[analysis]\nexposures = 'jump'", "analysis.exposures", "list"),
        ("[analysis]\nexposures = ['jump', 'jump']", "analysis.exposures", "once"),
        ("[analysis]\nexposures = ['jump', 'sress']", "'sress'", "Did you mean 'stress'"),
        ("[analysis]\nexposures = ['jump', 3]", "analysis.exposures = 3", "legal values"),
        ("[analysis]\nprimary = 'confidence'", "analysis.primary", "one of the exposures"),
        ("[analysis]\nexposures = ['stress']", "analysis.primary = 'jump'", "one of the exposures"),
        ("[analysis]\nprimary_contrast = 0", "analysis.primary_contrast", "not be 0"),
        ("[analysis]\nprimary_contrast = -1", "analysis.primary_contrast", "from -0.99 to 10"),
        ("[analysis]\npractically_zero = -1", "analysis.practically_zero", "0 to 10"),
        ("[groups]\nelbow = 'curl'", "groups.elbow", "list"),
        ("[groups]\nelbow = [3]", "groups.elbow", "text"),
        ("groups = 3", "groups = 3", "section"),
        ("[scores.fear]\nlow = 5\nhigh = 5", "scores.fear", "low below high"),
        ("[scores.fear]\nlow = 5", "scores.fear", "low and high"),
        ("[privacy]\nconsent_single_person_plots = 'yes'", "consent_single_person_plots", "true, false"),
        ("[repair]\nyes_no_words = 1", "repair.yes_no_words", "true, false"),
        ("[tables.checkins]\nfile = ''", "tables.checkins.file", "empty"),
        ("[tables.checkins]\nsep = '#'", "tables.checkins.sep", "legal values"),
        ("[tables.checkins]\nsep = ','\ndecimal = ','", "tables.checkins.decimal", "comma"),
        ("[tables.checkins]\ndecimal = '*'", "tables.checkins.decimal", "legal values"),
        ("[tables.checkins]\nencoding = 'utf-9'", "tables.checkins.encoding", "encoding"),
        ("[tables.checkins]\nencoding = 'base64'", "tables.checkins.encoding", "encoding"),
        ("[tables.checkins]\ndate_format = 'dd.mm.yyyy'", "tables.checkins.date_format", "%d.%m.%Y"),
        ("[tables.checkins]\ndate_format = '%d.%m'", "tables.checkins.date_format", "%d.%m.%Y"),
        ("[tables.checkins]\nheader_row = 0", "tables.checkins.header_row", "1 to 1000"),
        ("[tables.checkins.columns]\npain = 'a'\nstress = 'a'", "tables.checkins.columns.stress", "another name"),
        ("[tables.checkins.columns]\npain = 1", "tables.checkins.columns.pain", "text"),
        ("[tables.sessions.units]\nload_kg = 'stone'", "tables.sessions.units.load_kg", "kg, lb"),
        ("[tables.checkins.wide.pain]\nMon = 'a'", "tables.checkins.wide.pain.Mon", "whole number"),
        ("[tables.people.wide.sex]\nMon = 0", "tables.people.wide", "checkins, sessions and weeks only"),
        ("reviewed = 'no'", "reviewed = 'no'", "true, false"),
        ("[clock]\nstudy_start = '1.9.25'", "clock.study_start", "2025-09-01"),
        ("[blocks]\nautumn = ['2025-11-30', '2025-09-01']", "blocks.autumn", "not lie after"),
        ("[blocks]\nautumn = '2025-09-01'", "blocks.autumn", "first and last day"),
        ("[events]\nkinds = ['illness']", "events.kinds = 'illness'", "contract already"),
        ("[events.educatoin]\noutcomes = ['worry']", "'educatoin' in [events]", "'education'"),
        ("[events.education]\noutcomes = ['wory']", "events.education.outcomes = 'wory'", "'worry'"),
        ("[events.education]\noutcomes = []", "events.education.outcomes", "list of names"),
        ("[events.education]\nunmoved = 'jump'", "events.education.unmoved = 'jump'", "sleep_quality"),
        ("[events.break]\noutcomes = ['pain']\nunmoved = 'pain'", "events.break.unmoved", "hardly change"),
        ("[events]\noutcomes = ['pain']", "events.outcomes", "[events.education]"),
        ("[exercises.same]\nrow = ['a']\npress = ['A ']", "exercises.same.press", "spelling of 'row'"),
        ("[exercises.same]\nrow = ['press']\npress = ['a']", "exercises.same.press", "spelling of 'row'"),
        ("[tables.checkins]\nfile = 'a.csv'\nfiles = ['b.csv']", "checkins.files", "file names one"),
        ("[tables.checkins]\nperson_from = 'sheet'", "checkins.person_from", 'sheets = "*"'),
        ("[tables.people]\nday_ends = '04:00'", "people.day_ends", "have times"),
        ("[tables.checkins]\nday_ends = '13:00'", "checkins.day_ends", "before noon"),
        ("[tables.people.bands]\nage_band = 1", "people.bands.age_band", "5 to 50"),
        ("[tables.checkins]\nignore = ['x']\ncolumns = { pain = 'x' }", "checkins.ignore", "reads that column"),
    ],
)  # fmt: skip
def test_illegal_values_name_key_value_and_legal_values(folder, text, key, legal):
    with pytest.raises(StudyError) as caught:
        load_study(folder(text))
    assert key in str(caught.value)
    assert legal in str(caught.value)


def test_what_is_asked_about_after_events_is_read_written_and_changed(folder):
    text = "[events]\nkinds = ['new programme']\n[events.new-programme]\nunmoved = 'sleep_hours'\n"
    study = load_study(folder(f"{text}[events.education]\noutcomes = ['worry', 'pain']"))
    assert dict(study.events.outcomes) == {"education": ("worry", "pain")}
    assert dict(study.events.unmoved) == {"new_programme": "sleep_hours"}
    assert study_from(tomllib.loads(study_text(study))).events == study.events
    plain = Study("One")
    more = plain.with_(outcomes={"education": ["worry"]})
    assert more.changed == ("events.outcomes.education: None -> ['worry']",)
    assert more.plan_hash() != plain.plan_hash() == more.with_(outcomes={}).plan_hash()
    section = Study.schema()["$defs"]["EventsPlan"]["additionalProperties"]
    assert set(section["properties"]) == {"outcomes", "unmoved"} and not section["additionalProperties"]


def test_score_may_not_take_a_column_of_people(folder):
    with pytest.raises(StudyError, match="name of a column"):
        load_study(folder("[scores.sex]\nlow = 0\nhigh = 1"))


def test_missing_and_empty_title(folder):
    root = folder()
    (root / "study.toml").write_text("setting = 'x'\n")
    with pytest.raises(StudyError, match="title is missing"):
        load_study(root)
    (root / "study.toml").write_text("title = '  '\n")
    with pytest.raises(StudyError, match="empty"):
        load_study(root)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"title = 'x'\nsetting = clinic\n", "line 2"), (b"title = 'x'\nsetting = '\xe9'\n", "line 2"),
        (b"title = " + b"[" * 5000, "not valid TOML"),
        (b"title = 'x'\n[clock]\nstep_days = " + b"9" * 6000, "not valid TOML"), (b"#" * 1_100_000, "1 MB")],
)  # fmt: skip
def test_broken_toml_says_where(folder, content, said):
    root = folder()
    (root / "study.toml").write_bytes(content)
    with pytest.raises(StudyError, match=r"study\.toml") as caught:
        load_study(root)
    assert said in str(caught.value)


def test_byte_order_mark_before_the_toml(folder):
    root = folder()
    (root / "study.toml").write_bytes(b"\xef\xbb\xbftitle = 'x'")
    assert load_study(root).title == "x"


def test_missing_folder_file_for_folder_and_missing_study(tmp_path):
    with pytest.raises(CaseloadError, match="no such folder"):
        load_study(tmp_path / "nowhere")
    (tmp_path / "file").touch()
    with pytest.raises(CaseloadError, match="not a folder"):
        load_study(tmp_path / "file")
    with pytest.raises(CaseloadError, match=r"no study\.toml"):
        load_study(tmp_path)


def test_study_errors_survive_pickling(folder):
    with pytest.raises(StudyError) as caught:
        load_study(folder("[clock]\nstep_days = 0"))
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)
