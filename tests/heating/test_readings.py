"""Thermocouple readings: read from CSV as loggers and spreadsheets write it, all faults at once."""

import numpy as np
import pytest

from flamefe.basics.csv_columns import MOST_ROWS
from flamefe.basics.errors import FlamefeWarning
from flamefe.heating.readings import Readings, ReadingsError, read_readings

HEADER = "x_mm,y_mm,z_mm,time_s,temperature_C"


def rows(count=8, separator=",", decimal="."):
    """Lines of a thermocouple at (50, 30.5, 0) mm that warms up."""
    cells = [["50", "30.5", "0", f"{2 * i}", f"{20 + 12.5 * i}"] for i in range(count)]
    return [separator.join(cell.replace(".", decimal) for cell in row) for row in cells]


def written(folder, lines, encoding="utf-8"):
    file = folder / "trial.csv"
    file.write_bytes("\n".join(lines).encode(encoding))
    return file


def faults_of(folder, lines):
    with pytest.raises(ReadingsError) as caught:
        read_readings(written(folder, lines))
    return caught.value.faults


@pytest.mark.parametrize(
    ("separator", "decimal"), [(",", "."), (";", "."), (";", ",")], ids=["comma", "semi", "german"]
)
def test_the_same_readings_from_each_way_of_writing(tmp_path, separator, decimal):
    lines = [HEADER.replace(",", separator), *rows(separator=separator, decimal=decimal)]
    readings = read_readings(written(tmp_path, lines))
    assert readings.places == pytest.approx(np.tile([0.05, 0.0305, 0.0], (8, 1)))
    assert readings.times.tolist() == [0, 2, 4, 6, 8, 10, 12, 14]
    assert readings.temperatures.tolist() == [20, 32.5, 45, 57.5, 70, 82.5, 95, 107.5]
    assert readings.deviations is None
    assert readings.thermocouples == ("place 1",)


def test_columns_in_any_order_with_names_deviations_comments_and_a_byte_order_mark(tmp_path):
    lines = [
        "# trial on a hopper wall",
        "Temperature_C;thermocouple;time_s;z_mm;y_mm;x_mm;deviation_K",
        "",
        *(f"{30 + i};Rückseite {i % 2};{i // 2};0;{10 * (i % 2)};5;1,5" for i in range(8)),
        ";;;;;;",
    ]
    for encoding in ("utf-8-sig", "cp1252"):
        readings = read_readings(written(tmp_path, lines, encoding))
        assert readings.thermocouples == ("Rückseite 0", "Rückseite 1")
        assert readings.place("Rückseite 1").tolist() == [0.005, 0.01, 0.0]
        assert readings.deviations.tolist() == [1.5] * 8
        assert readings.rows("Rückseite 1").tolist() == [1, 3, 5, 7]


def test_rows_of_a_thermocouple_come_in_the_order_of_time():
    times = np.array([6.0, 0.0, 4.0, 2.0, 3.0, 1.0, 5.0, 7.0])
    readings = Readings(places=np.zeros((8, 3)), times=times, temperatures=20.0 + times)
    assert readings.times[readings.rows("place 1")].tolist() == sorted(times)


def test_all_faults_at_once_with_their_lines(tmp_path):
    lines = [HEADER, *rows(8)]
    lines[2] = "50,30.5,0,-2,45"
    lines[3] = "50,30.5,0,4,hot"
    lines[4] = "50,30.5,0,6,1700"
    lines[5] = "50,30.5,,8,70"
    lines[6] = "50,30.5,0,10"
    lines[7] = "50,30.5,0,12,-60"
    faults = faults_of(tmp_path, lines)
    assert [fault.split(":")[0] for fault in faults] == [f"line {n}" for n in (3, 4, 5, 6, 7, 8)]
    for fault, words in zip(
        faults,
        (
            "time_s is -2",
            '"hot"',
            "1700; allowed: -50 to 1500",
            "z_mm is empty",
            "4 columns",
            "-60",
        ),
        strict=True,
    ):
        assert words in fault


def test_two_faults_in_one_row_are_both_told(tmp_path):
    lines = [HEADER, *rows(8), "50,30.5,0,-1,9999"]
    faults = faults_of(tmp_path, lines)
    assert len(faults) == 2
    assert all(fault.startswith("line 10: ") for fault in faults)


@pytest.mark.parametrize("cell", ["nan", "inf", "1_000", "0x10", "1e999", "٣", "20 C", "--5"])
def test_only_plain_finite_numbers_are_taken(tmp_path, cell):
    assert len(faults_of(tmp_path, [HEADER, *rows(8), f"50,30.5,0,30,{cell}"])) == 1


def test_units_are_told_from_the_header(tmp_path):
    lines = ["x_m,y_mm,z_mm,time_min,temperature_F,note", *("0,0,0,1,70,a" for _ in range(8))]
    faults = faults_of(tmp_path, lines)
    assert len(faults) == 4
    assert '"x_mm" is missing. "x_m"' in faults[0]
    assert "must be s" in faults[1]
    assert "must be C" in faults[2]
    assert '"note" is not known' in faults[3]


def test_a_column_twice_or_no_columns_at_all(tmp_path):
    assert any("2 times" in f for f in faults_of(tmp_path, [f"{HEADER},x_mm", *rows(8)]))
    assert any("separated" in f for f in faults_of(tmp_path, ["x_mm y_mm", "1 2"]))
    assert "empty" in faults_of(tmp_path, [""])[0]
    assert "plain text" in faults_of(tmp_path, ["PK\0\0"])[0]


def test_too_few_rows(tmp_path):
    assert faults_of(tmp_path, [HEADER, *rows(7)]) == ("there are 7 readings; needed: at least 8",)


def test_too_many_rows(tmp_path):
    assert "at most" in faults_of(tmp_path, [HEADER, *["1,1,1,1,20"] * (MOST_ROWS + 1)])[0]


def test_a_thermocouple_at_two_places_or_read_twice(tmp_path):
    head = f"{HEADER},thermocouple"
    lines = [head, *(f"{row},row 3" for row in rows(8)), "51,30.5,0,40,25,row 3",
             "50,30.5,0,4,45,row 3"]  # fmt: skip
    faults = faults_of(tmp_path, lines)
    assert faults[0].startswith('line 10: thermocouple "row 3" is at (51, 30.5, 0) mm, but at')
    assert "in line 2." in faults[0]
    assert faults[1].startswith("line 11: ")
    assert "already read at 4 s in line 4" in faults[1]


def test_a_name_is_missing(tmp_path):
    lines = [f"{HEADER},thermocouple", *(f"{row},A" for row in rows(8)), "50,30.5,0,40,25,"]
    assert "thermocouple is empty" in faults_of(tmp_path, lines)[0]


def test_a_constant_thermocouple_is_a_warning(tmp_path):
    head = f"{HEADER},thermocouple"
    dead = [f"0,0,0,{i},20,B2" for i in range(4)]
    with pytest.warns(FlamefeWarning, match='"B2" shows 20 C in all of its 4 readings'):
        readings = read_readings(written(tmp_path, [head, *(f"{r},A" for r in rows(8)), *dead]))
    assert len(readings.remarks) == 1


def test_long_lists_of_faults_are_cut(tmp_path):
    with pytest.raises(ReadingsError) as caught:
        read_readings(written(tmp_path, [HEADER, *["1,1,1,-1,20"] * 500]))
    assert len(caught.value.faults) == 500
    assert str(caught.value).count("\n") < 50
    assert "and 460 more" in str(caught.value)


def test_readings_made_in_python_check_themselves():
    times = np.linspace(0.0, 7.0, 8)
    good = {"places": np.zeros((8, 3)), "times": times, "temperatures": 20.0 + times}
    Readings(**good)
    for wrong, words in (
        ({"places": np.zeros((8, 2))}, "needed: \\(k, 3\\)"),
        ({"temperatures": np.zeros(7)}, "one value a row"),
        ({"deviations": np.zeros(8)}, "deviation_K is 0"),
        ({"labels": ("A",)}, "1 labels"),
        ({"times": np.full(8, np.nan)}, "no finite number"),
    ):
        with pytest.raises(ReadingsError, match=words):
            Readings(**{**good, **wrong})
