"""Values written into a kit the photographer wrote by hand."""

import os
import stat
import tomllib

import pytest

from audit.errors import AuditError
from audit.kit.write import plan, plan_all, write

KIT = """\
# my kit
place = "Skarven"

[[lens]]
id = "w16"          # the wide one
exif = ["Sund 16-35 mm f4"]
focal_mm = [16, 35]
pupil_depth_mm = 25.0   # guessed
shift = false

# the long one
[[lens]]
id = "t70"
focal_mm = [70, 200]


# rings

[[ring]]
id = "r77"
thread_mm = 77  # measured
"""


@pytest.fixture
def kit(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_text(KIT, encoding="utf-8")
    return path


def test_a_value_changes_and_nothing_else(kit):
    change = plan(kit, "w16", {"pupil_depth_mm": 26.4, "pupil_depths": None})
    assert change.after == KIT.replace("pupil_depth_mm = 25.0   #", "pupil_depth_mm = 26.4   #")
    assert "-pupil_depth_mm = 25.0   # guessed\n+pupil_depth_mm = 26.4   # guessed\n" in change.diff
    assert kit.read_text(encoding="utf-8") == KIT


def test_new_keys_stand_behind_the_last_of_their_table(kit):
    change = plan(kit, "w16", {"pupil_depth_err_mm": 0.8, "pupil_drift_mm": 5.2})
    lines = "shift = false\npupil_depth_err_mm = 0.8\npupil_drift_mm = 5.2\n\n# the long one\n"
    assert change.after == KIT.replace("shift = false\n\n# the long one\n", lines)


def test_keys_go_and_tables_of_numbers_come(kit):
    values = {"pupil_depth_mm": None, "pupil_depths": [[16.0, 25.1, 0.6], [24.0, 27.9, 0.8]]}
    change = plan(kit, "w16", values)
    lens = tomllib.loads(change.after)["lens"][0]
    assert "pupil_depth_mm" not in lens
    assert lens["pupil_depths"] == [[16.0, 25.1, 0.6], [24.0, 27.9, 0.8]]
    for comment in ("# my kit", "# the wide one", "# the long one", "# rings", "# measured"):
        assert comment in change.after


def test_the_last_table_of_the_file_can_be_written_too(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_text('[[lens]]\nid = "a"\nfocal_mm = 20', encoding="utf-8")
    after = plan(path, "a", {"pupil_depth_mm": 25.0}).after
    assert tomllib.loads(after)["lens"] == [{"id": "a", "focal_mm": 20, "pupil_depth_mm": 25.0}]


def test_filters_and_several_tables_at_once(tmp_path):
    path = tmp_path / "kit.toml"
    text = KIT + '\n[[filter]]\nid = "n10"\nkind = "neutral"\nstops = 10  # says the rim\n'
    path.write_text(text, encoding="utf-8")
    found = {"measured_stops": 9.6, "measured_err_stops": 0.3}
    one = plan(path, "n10", found, table="filter")
    assert one.after == text + "measured_stops = 9.6\nmeasured_err_stops = 0.3\n"
    both = plan_all(path, {("filter", "n10"): found, ("lens", "t70"): {"pupil_depth_mm": 40.0}})
    kit = tomllib.loads(both.after)
    assert kit["filter"][0]["measured_stops"] == 9.6 and kit["lens"][1]["pupil_depth_mm"] == 40.0
    assert plan_all(path, {}).diff == ""
    with pytest.raises(AuditError, match=r'no \[\[filter\]\] with id = "w16"'):
        plan(path, "w16", found, table="filter")


def test_lenses_written_inline(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_text('lens = [{id = "a", focal_mm = 20}]\n', encoding="utf-8")
    after = plan(path, "a", {"pupil_depth_mm": 25.0}).after
    assert tomllib.loads(after)["lens"] == [{"id": "a", "focal_mm": 20, "pupil_depth_mm": 25.0}]


def test_line_ends_stay(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_bytes(KIT.replace("\n", "\r\n").encode())
    write(plan(path, "w16", {"pupil_depth_mm": 26.4, "pupil_drift_mm": 5.2}))
    data = path.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n") == KIT.count("\n") + 1


def test_the_backup_holds_the_old_file_and_never_an_older_backup(kit):
    first = write(plan(kit, "w16", {"pupil_depth_mm": 26.0}))
    second = write(plan(kit, "w16", {"pupil_depth_mm": 27.0}))
    assert (first.name, second.name) == ("kit.toml.bak", "kit.toml.bak1")
    assert first.read_text(encoding="utf-8") == KIT
    assert "26.0" in second.read_text(encoding="utf-8") and "27.0" in kit.read_text(encoding="utf-8")
    assert sorted(p.name for p in kit.parent.iterdir()) == ["kit.toml", "kit.toml.bak", "kit.toml.bak1"]


def test_rights_and_links_stay(kit, tmp_path):
    kit.chmod(0o640)
    link = tmp_path / "sub" / "kit.toml"
    link.parent.mkdir()
    link.symlink_to(kit)
    write(plan(link, "w16", {"pupil_depth_mm": 26.0}))
    assert link.is_symlink() and "26.0" in kit.read_text(encoding="utf-8")
    assert stat.S_IMODE(kit.stat().st_mode) == 0o640


def test_a_kit_changed_meanwhile_is_left_alone(kit):
    change = plan(kit, "w16", {"pupil_depth_mm": 26.0})
    kit.write_text(KIT + "# more\n", encoding="utf-8")
    with pytest.raises(AuditError, match="changed meanwhile"):
        write(change)
    assert kit.read_text(encoding="utf-8") == KIT + "# more\n"


def test_no_unsound_kit_is_written(kit):
    change = plan(kit, "w16", {"pupil_depths": [[16.0, 25.0, 0.5]]})  # beside pupil_depth_mm
    with pytest.raises(AuditError, match=r"both given.*nothing was changed"):
        write(change)
    assert [p.name for p in kit.parent.iterdir()] == ["kit.toml"]
    assert kit.read_text(encoding="utf-8") == KIT


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_cannot_be_written_is_said(kit):
    kit.parent.chmod(0o500)
    try:
        with pytest.raises(AuditError, match="cannot be written"):
            write(plan(kit, "w16", {"pupil_depth_mm": 26.0}))
    finally:
        kit.parent.chmod(0o700)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"[[lens]\n", "not valid TOML"),
        (b'[[ring]]\nid = "r"\n', r"no \[\[lens\]\] with id"),
        (b"\xff\xfe", "not UTF-8"),
        (None, "cannot be read"),
    ],
)
def test_what_cannot_be_written_into_is_said(tmp_path, content, said):
    path = tmp_path / "kit.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(AuditError, match=said):
        plan(path, "w16", {"pupil_depth_mm": 26.0})
