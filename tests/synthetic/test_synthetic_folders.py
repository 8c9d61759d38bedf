"""Synthetic caseloads as folders: read back as they were, the same bytes again, small and within the contract."""

import json
import tomllib
import zipfile
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import lagwise as lw
from lagwise.caseload.study_file import study_from
from lagwise.core import columns
from lagwise.core.errors import CaseloadError
from lagwise.synthetic import CLINIC, files, make, own_clinic, simulate, write
from lagwise.synthetic.__main__ import SHIPPED, hand_out, main
from lagwise.synthetic.folder import study_text

SHIPPED_FOLDER = Path(__file__).parents[2] / "data_synthetic"


def test_the_shipped_caseloads_come_out_byte_for_byte(tmp_path):
    main(tmp_path)
    for kind in SHIPPED:
        there = {p.name: p.read_bytes() for p in (SHIPPED_FOLDER / kind).iterdir()}
        again = {p.name: p.read_bytes() for p in (tmp_path / kind).iterdir()}
        assert there == again
        assert sum(map(len, there.values())) < 2.5e6
        assert max(map(len, there.values())) < 2e6


@pytest.mark.parametrize("kind", ["weeks_only", "checkins_only", "changes"])
def test_a_written_caseload_reads_back_as_it_was(kind, tmp_path):
    made, truth = make(kind, 3)
    read = lw.read(write(kind, tmp_path / "out", seed=3))
    assert read.study == made.study
    assert read.data_hash == made.data_hash
    for table in columns.TABLES:
        pd.testing.assert_frame_equal(getattr(read, table), getattr(made, table))
    pd.testing.assert_frame_equal(read.counts, made.counts)
    assert read.quarantine.empty
    assert json.loads((tmp_path / "out" / "truth.json").read_text()) == truth


def told(kind):
    return json.loads((SHIPPED_FOLDER / kind / "truth.json").read_text("utf-8"))


def test_stored_truths_are_those_of_the_process_whatever_the_seed():
    assert make("no_effect", 5)[1] | {"seed": 1} == told("no_effect")


def test_a_clinic_of_ones_own_is_written_once_and_left_alone_when_it_is_there(tmp_path):
    folder = own_clinic(4711, tmp_path)
    assert folder == tmp_path / "clinic-4711"
    assert lw.read(folder).data_hash == make("clinic", 4711)[0].data_hash
    assert (folder / "truth.json").is_file()
    times = {p.name: p.stat().st_mtime_ns for p in folder.iterdir()}
    assert own_clinic(4711, tmp_path) == folder
    assert times == {p.name: p.stat().st_mtime_ns for p in folder.iterdir()}
    (folder / "people.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(CaseloadError, match="clinic-4711"):
        own_clinic(4711, tmp_path)


def test_the_clinic_to_hand_out_is_the_same_bytes_everywhere_with_the_checksum_of_the_docs(tmp_path):
    checksum = hand_out(tmp_path / "clinic.zip", 1)
    assert checksum in (SHIPPED_FOLDER.parent / "docs" / "teaching.md").read_text("utf-8")
    with zipfile.ZipFile(tmp_path / "clinic.zip") as archive:
        archive.extractall(tmp_path)
        assert {entry.date_time for entry in archive.infolist()} == {(2024, 1, 1, 0, 0, 0)}
    assert lw.read(tmp_path / "clinic").data_hash == lw.read(SHIPPED_FOLDER / "clinic").data_hash


def test_another_seed_gives_another_caseload():
    one, two = files("weeks_only", 1), files("weeks_only", 2)
    assert one["weeks.csv"] != two["weeks.csv"]
    assert one["study.toml"] == two["study.toml"]


def test_an_unknown_kind_names_the_known_ones(tmp_path):
    with pytest.raises(CaseloadError, match="clinic, no_effect"):
        write("clinnic", tmp_path / "x")


def test_a_full_folder_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("keep")
    with pytest.raises(CaseloadError, match="not empty"):
        write("tiny", tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_a_plan_with_odd_texts_reads_back():
    odd = replace(
        simulate(CLINIC, 1).study,
        title='Knee "log" \U0001f980 \x7f',
        groups={"upper limb": ("row", "pr\u00e4ss")},
    )
    again = study_from(tomllib.loads(study_text(odd)))
    assert (again.title, dict(again.groups)) == (odd.title, dict(odd.groups))
