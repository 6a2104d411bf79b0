"""flamefe calibrate and flamefe rules: from a table in a file to a card in a file."""

import csv
import json

import numpy as np
import pytest
from typer.testing import CliRunner

from flamefe import cli
from flamefe.rules.card_file import read_card
from flamefe.rules.columns import TableError, inputs_of_columns
from flamefe.rules.registry import RULES
from flamefe.rules.table_file import read_table

COLUMN = "angular change at mid length [deg]"


def call(*words):
    return CliRunner().invoke(cli.app, [str(word) for word in words])


def heats(count=20, scale=1.0, noise=0.05, seed=7):
    """Invented line heats whose angle goes with the heat by h^2."""
    random = np.random.default_rng(seed)
    rows = []
    for a, b, c in random.random((count, 3)):
        h, v, power = 6 + 14 * a, 3 + 6 * b, 2 + 2 * c
        angle = scale * 0.1 * 1e3 * power / v / h**2 * (1 + noise * random.standard_normal())
        rows.append(
            {"part": "plate", "material": "S355", "thickness_mm": round(h, 3), "speed_mm_s":
             round(v, 3), "net_power_kW": round(power, 3), "flame_radius_mm": 15,
             COLUMN: round(angle, 5)}
        )  # fmt: skip
    return rows


def write(file, rows, delimiter=","):
    with file.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, fieldnames=list(rows[0]), delimiter=delimiter)
        writer.writeheader()
        writer.writerows(rows)
    return file


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    return write(tmp_path_factory.mktemp("tables") / "heats.csv", heats())


def test_a_table_gives_a_verdict_and_a_card(table, tmp_path):
    card = tmp_path / "new folder" / "wall.json"
    done = call(
        "calibrate", table, "--rule", "two layers", "--coefficient", "factor", "--coefficient",
        "heat", "--card", card, "--about", "invented heats", "--mesh-error-percent", 2,
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "Good inside its range, not outside" in done.stdout
    assert "from heats.csv, 20 of 20 rows" in done.stdout
    assert "2 %" in done.stdout
    assert "licensed practice" in " ".join(done.stdout.split())
    assert max(len(line) for line in done.stdout.splitlines() if str(tmp_path) not in line) <= 100
    back = read_card(card)
    assert back.provenance["about"] == "invented heats"
    assert back.simulation_error == 0.02
    asked = inputs_of_columns({k: v for k, v in heats()[0].items() if k != COLUMN})
    assert back.predict(asked).value == pytest.approx(heats()[0][COLUMN], rel=0.2)


def test_a_shop_starts_from_simulations_or_their_card(table, tmp_path):
    card = tmp_path / "simulated.json"
    assert call("calibrate", table, "--rule", "two layers", "--card", card).exit_code == 0
    shop = write(tmp_path / "shop.csv", heats(3, scale=1.3, seed=1))
    for prior in (table, card):
        done = call("calibrate", shop, "--rule", "two layers", "--prior", prior,
                    "--doubt", "factor=0.4")  # fmt: skip
        assert done.exit_code == 0, done.output
        assert "with a prior" in done.stdout
        assert "from 3 rows and a prior" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--rule", "two layer"), "did you mean 'two layers'?"),
        (("--rule", "tendon force"), "several quantities"),
        (("--rule", "Satoh and Terasaki"), "no column 'developed width shrinkage"),
        (("--rule", "two layers", "--coefficient", "speed"), "it has 'factor'"),
        (("--rule", "two layers", "--scatter", "wild"), "--scatter is 'wild'"),
        (("--rule", "two layers", "--doubt", "factor"), "coefficient=number"),
        (("--rule", "two layers", "--doubt", "factor=0.3"), "about a prior"),
        (("--rule", "two layers", "--prior", "absent.json"), "absent.json: No such file"),
    ],
)
def test_faults_are_one_plain_line(table, words, said):
    done = call("calibrate", table, *words)
    assert done.exit_code == 2
    assert said in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert not done.stdout


def test_faults_of_files(table, tmp_path):
    done = call("calibrate", tmp_path / "absent.csv", "--rule", "two layers")
    assert (done.exit_code, len(done.stderr.splitlines())) == (2, 1)
    rows = heats()
    rows[4]["thickness_mm"] = "thick"
    done = call("calibrate", write(tmp_path / "bad.csv", rows), "--rule", "two layers")
    assert "Row 5: Column 'thickness_mm' holds 'thick'" in done.stderr
    no_card = tmp_path / "no.json"
    no_card.write_text("{}", encoding="utf-8")
    done = call("calibrate", table, "--rule", "two layers", "--prior", no_card)
    assert done.exit_code == 2
    assert "no rule card" in done.stderr


def test_rules_are_listed_and_told():
    done = call("rules")
    assert done.exit_code == 0
    for rule in RULES:
        assert f"{rule.quantity} [{rule.unit}]" in done.stdout
    told = call("rules", "published mean of wedge heats").stdout
    assert "wedge_angle_deg" in told
    assert "free, jacks" in told
    assert "from memory" in told
    assert "did you mean" in call("rules", "two layer").stderr


def test_tables_as_an_office_program_writes_them(tmp_path):
    rows = [{k: str(v).replace(".", ",") for k, v in row.items()} for row in heats(3)]
    file = tmp_path / "office.csv"
    write(file, rows, ";")
    file.write_bytes(b"\xef\xbb\xbf# shop, May\n\n" + file.read_bytes())
    found = read_table(file)
    assert [float(row[COLUMN]) for row in found] == [row[COLUMN] for row in heats(3)]
    assert inputs_of_columns(found[0]).thickness == heats(3)[0]["thickness_mm"] * 1e-3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no rows"),
        ("a,b\n", "no rows"),
        ("a,a\n1,2\n", "stands twice"),
        ("a,\n1,2\n", "no name"),
        ("a,b\n1,2,3\n", "line 2: 3 columns; needed: 2"),
        ("a,b\n\n1,2\n1\n", "line 4"),
        ("a\0b", "plain text"),
    ],
)
def test_tables_that_are_none(tmp_path, text, said):
    file = tmp_path / "table.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(TableError, match=said):
        read_table(file)


def test_parquet_is_read_too(tmp_path):
    pyarrow = pytest.importorskip("pyarrow")
    from pyarrow.parquet import write_table

    rows = heats(4)
    write_table(pyarrow.Table.from_pylist(rows), tmp_path / "heats.parquet")
    assert list(read_table(tmp_path / "heats.parquet")) == rows
    (tmp_path / "no.parquet").write_bytes(b"nothing")
    with pytest.raises(TableError, match="can't be read as Parquet"):
        read_table(tmp_path / "no.parquet")


def test_a_card_is_plain_json(table, tmp_path):
    card = tmp_path / "card.json"
    call("calibrate", table, "--rule", "all heat upset at the face", "--card", card)
    document = json.loads(card.read_text(encoding="utf-8"))
    assert document["format"] == "flamefe rule card"
    assert document["range"]["columns"]["flame_radius_mm"] == [15.0, 15.0]
