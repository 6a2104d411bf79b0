"""Surveys: placement is fitted out, bands cover what they say, mistakes are caught."""

import warnings

import numpy as np
import pytest

from flamefe.basics.csv_columns import CsvFaults
from flamefe.basics.errors import FlamefeWarning, OutOfRange
from flamefe.outcome.deviations import Placement
from flamefe.outcome.survey_checks import SurveyError
from flamefe.outcome.survey_file import read_survey, warn_of
from flamefe.outcome.survey_lines import PlumbLine, StringLine, parabola
from flamefe.outcome.survey_shapes import RingRadii, SurfacePoints

TRIALS = 400
COVER = 1.96


def file_of(folder, text):
    path = folder / "survey.csv"
    path.write_text(text, encoding="utf-8")
    return path


def covered(values, uncertainty, truth):
    return np.abs(values - truth) <= COVER * uncertainty


class TestCoverage:
    """Synthetic surveys of a known shape in a random place: 95 % bands hold the truth 95 % of the
    time. 400 surveys of some ten places: the share's own standard deviation is near 0.5 %."""

    def shares(self, survey_of, truth_of):
        random = np.random.default_rng(11)
        hits = []
        for _ in range(TRIALS):
            found = survey_of(random)
            sure = found.uncertainty > 1e-9
            hits.append(covered(found.values, found.uncertainty, truth_of(found))[sure])
        return float(np.mean(np.concatenate(hits)))

    @pytest.mark.parametrize("way", ["ends", "least squares"])
    def test_string_line(self, way):
        x = np.linspace(0, 12, 13)
        shape = 0.004 * np.sin(x) + 0.001 * x
        errors = np.where(x > 6, 2e-3, 5e-4)
        level = StringLine(stations=x, offsets=shape, error=errors).against(placed_by=way).values

        def survey(random):
            place = random.normal(0, 0.05) + random.normal(0, 0.01) * x
            read = shape + place + random.normal(0, errors)
            return StringLine(stations=x, offsets=read, error=errors).against(placed_by=way)

        assert self.shares(survey, lambda _: level) == pytest.approx(0.95, abs=0.015)

    def test_plumb_line(self):
        z = np.array([0.5, 3.0, 6.0, 9.0, 12.0])
        x, y = 0.002 * z, -0.001 * z + 0.003 * np.sin(z)

        def survey(random):
            shift = random.normal(0, 0.1, 2)
            return PlumbLine(
                heights=z, offsets_x=x + shift[0] + random.normal(0, 1e-3, 5),
                offsets_y=y + shift[1] + random.normal(0, 1e-3, 5), error=1e-3,
            ).against()  # fmt: skip

        truth = np.concatenate((x - x[0], y - y[0]))
        assert self.shares(survey, lambda _: truth) == pytest.approx(0.95, abs=0.015)

    @pytest.mark.parametrize("formed", [False, True])
    def test_surface(self, formed):
        gx, gy = (g.ravel() for g in np.meshgrid(np.linspace(0, 2, 6), np.linspace(0, 1, 5)))
        target = (lambda x, y: 0.1 * (x - 1) ** 2 + 0.15 * (y - 0.5) ** 2) if formed else None
        bump = 0.003 * np.sin(2 * gx) * np.cos(3 * gy)
        height = bump + (target(gx, gy) if target else 0.0)
        points = np.column_stack((gx, gy, height))
        truth = SurfacePoints(points=points, error=3e-4).against(target).values

        def survey(random):
            read = points + np.outer(random.normal(0, 3e-4, len(points)), (0, 0, 1))
            angles = random.normal(0, 0.003, 3)
            turned = read + np.cross(angles, read) + random.normal(0, 0.005, 3)
            return SurfacePoints(points=turned, error=3e-4).against(target)

        assert self.shares(survey, lambda _: truth) == pytest.approx(0.95, abs=0.02)

    def test_ring(self):
        t = np.radians(np.arange(0, 360, 24))
        wave = 0.002 * np.cos(2 * t) + 0.001 * np.sin(3 * t)
        truth = RingRadii(angles=t, radii=0.6 + wave, error=3e-4).against().values

        def survey(random):
            a, b = random.normal(0, 2e-3, 2)
            read = 0.6 + wave + a * np.cos(t) + b * np.sin(t) + random.normal(0, 3e-4, t.size)
            return RingRadii(angles=t, radii=read, error=3e-4).against()

        assert self.shares(survey, lambda _: truth) == pytest.approx(0.95, abs=0.015)

    def test_too_small_an_error_is_not_covered(self):
        """The check can fail: with half the true error bands hold some two thirds."""
        x = np.linspace(0, 12, 13)

        def survey(random):
            return StringLine(stations=x, offsets=random.normal(0, 1e-3, 13), error=5e-4).against()

        assert self.shares(survey, lambda found: 0.0 * found.values) < 0.75


class TestPlacement:
    def test_what_is_fitted_out_of_readings_is_fitted_out_of_heats(self):
        """A heat's influence is placed like the readings: what it does to the deviations is what
        a survey after it finds."""
        x = np.linspace(0, 12, 9)
        before, moved = 0.01 * np.sin(x), np.where(x < 5, x * 7, 5 * (12 - x)) / 12 * -2e-3
        for way in ("ends", "least squares"):
            first = StringLine(stations=x, offsets=before, error=1e-3).against(placed_by=way)
            after = StringLine(stations=x, offsets=before + moved, error=1e-3)
            change = after.against(placed_by=way).values - first.values
            assert first.of(moved[:, None])[:, 0] == pytest.approx(change, abs=1e-12)

    def test_a_real_circle_off_its_middle_is_round(self):
        """Radii to a circle from a point 8 mm off its middle, exactly: what is left is 0.02 mm."""
        t = np.radians(np.arange(0, 360, 15))
        e, radius = 0.008, 0.5
        radii = e * np.cos(t) + np.sqrt(radius**2 - e**2 * np.sin(t) ** 2)
        found = RingRadii(angles=t, radii=radii, error=1e-5).against()
        assert np.abs(found.values).max() < 2e-6
        assert found.summary[1][0].value == pytest.approx(500.0, abs=0.01)

    def test_a_turned_surface_is_flat(self):
        random = np.random.default_rng(2)
        xy = random.uniform(0, 2, (30, 2))
        tilted = np.column_stack((xy, 0.05 * xy[:, 0] - 0.02 * xy[:, 1] + 0.3))
        found = SurfacePoints(points=tilted, error=1e-4).against()
        assert np.abs(found.values).max() < 1e-12

    def test_a_camber_curve_is_a_target(self):
        x = np.linspace(0, 10, 11)
        survey = StringLine(stations=x, offsets=0.02 + parabola(0.03, 0, 10)(x), error=1e-3)
        assert np.abs(survey.against(0.03).values).max() < 1e-12
        assert survey.against(lambda s: 0.0 * s).values.max() == pytest.approx(0.03)
        assert survey.against(0.02).summary[0][0].value == pytest.approx(10.0)

    def test_modes_that_say_the_same_count_once(self):
        modes = np.column_stack((np.ones(5), np.ones(5), np.arange(5.0)))
        placed = Placement.fitted(modes, np.ones(5), about="a line")
        assert placed.of(2.0 + 3.0 * np.arange(5.0)) == pytest.approx(np.zeros(5), abs=1e-12)
        assert np.linalg.matrix_rank(placed.left) == 3


class TestVerdict:
    def test_iso_13920_by_the_length_of_the_member(self):
        x = np.linspace(0, 6, 7)
        survey = StringLine(stations=x, offsets=0.0055 * np.sin(np.pi * x / 6), error=1e-4)
        found = survey.against()
        assert found.limit("F") == pytest.approx(8e-3)  # above 4 up to 8 m
        assert found.verdict("F").word == "within"
        assert found.verdict("E").word == "outside"  # 4 mm
        assert "+5.5 mm at camber at 3 m" in found.verdict("E").words

    def test_near_the_limit_it_is_not_sure(self):
        x = np.linspace(0, 6, 7)
        found = StringLine(stations=x, offsets=0.004 * np.sin(np.pi * x / 6), error=1e-3).against()
        verdict = found.verdict(0.004)
        assert verdict.word == "not sure"
        assert verdict.outside == pytest.approx(0.5, abs=0.01)

    def test_the_stated_probability_is_one(self):
        """Within: in at least so many of all parts that could have given these readings."""
        x = np.linspace(0, 6, 7)
        found = StringLine(stations=x, offsets=0.003 * np.sin(np.pi * x / 6), error=5e-4).against()
        random = np.random.default_rng(5)
        spread = np.linalg.cholesky(found.covariance + 1e-18 * np.eye(7))
        true = found.values + random.normal(size=(20000, 7)) @ spread.T
        share = float((np.abs(true) <= 0.004).all(axis=1).mean())
        assert found.verdict(0.004).within <= share + 0.005
        assert found.verdict(0.004).within == pytest.approx(share, abs=0.03)

    def test_a_class_is_for_straight_and_flat_alone(self):
        t = np.radians(np.arange(0, 360, 30))
        found = RingRadii(angles=t, radii=0.5 + 0.0 * t, error=1e-3).against()
        with pytest.raises(OutOfRange, match="no class for roundness"):
            found.verdict("F")
        with pytest.raises(OutOfRange, match="above 0"):
            found.verdict(0.0)


class TestMistakes:
    X = np.linspace(0, 12, 13)
    BOW = 0.02 * np.sin(np.pi * X / 12)

    def test_one_wild_reading_is_named_and_a_kink_is_not(self):
        random = np.random.default_rng(8)
        kinked = np.where(self.X < 5, self.X, 5 * (12 - self.X) / 7) * 4e-3
        flagged = 0
        for shape in (self.BOW, kinked):
            for _ in range(100):
                read = shape + random.normal(0, 5e-4, 13)
                found = StringLine(stations=self.X, offsets=read, error=5e-4).against()
                flagged += bool(found.remarks)
                read[8] += 0.008
                found = StringLine(stations=self.X, offsets=read, error=5e-4).against()
                assert any("camber at 8 m" in remark for remark in found.remarks)
        assert flagged <= 2  # of 200

    def test_a_wild_point_on_a_surface(self):
        gx, gy = (g.ravel() for g in np.meshgrid(np.linspace(0, 2, 7), np.linspace(0, 1, 6)))
        random = np.random.default_rng(8)
        z = 0.004 * np.sin(np.pi * gx / 2) * np.sin(np.pi * gy) + random.normal(0, 3e-4, gx.size)
        clean = SurfacePoints(points=np.column_stack((gx, gy, z)), error=3e-4).against()
        assert clean.remarks == ()
        z[17] -= 0.01
        found = SurfacePoints(points=np.column_stack((gx, gy, z)), error=3e-4).against()
        assert len(found.remarks) == 1
        assert found.names[17] in found.remarks[0]

    def test_a_wild_radius(self):
        t = np.radians(np.arange(0, 360, 20))
        radii = 0.5 + 0.003 * np.cos(2 * t)
        radii[0] += 0.01
        found = RingRadii(angles=t, radii=radii, error=3e-4).against()
        assert len(found.remarks) == 1
        assert "0 deg" in found.remarks[0]

    @pytest.mark.parametrize(
        ("factor", "unit"), [(1e-3, "metres"), (1 / 25.4, "inches"), (0.1, "centimetres")]
    )
    def test_stations_in_another_unit(self, factor, unit):
        with pytest.raises(SurveyError, match=unit):
            StringLine(stations=factor * self.X, offsets=factor * self.BOW, error=1e-5, length=12.0)

    def test_metres_are_seen_without_the_length_too(self):
        with pytest.raises(SurveyError, match="look like metres"):
            StringLine(stations=1e-3 * self.X, offsets=1e-3 * self.BOW, error=1e-3)

    def test_offsets_in_metres(self):
        found = StringLine(stations=self.X, offsets=1e-3 * self.BOW, error=5e-4).against()
        assert any("metres or inches" in remark for remark in found.remarks)

    def test_swapped_columns(self):
        with pytest.raises(SurveyError, match="swapped"):
            StringLine(stations=self.BOW + 1e-4 * self.X, offsets=self.X, error=1e-3)
        with pytest.raises(SurveyError, match="swapped"):
            PlumbLine(heights=[0, 0.01], offsets_x=[0, 9.0], offsets_y=[0, 0.0], error=1e-3)
        with pytest.raises(SurveyError, match="swapped"):
            RingRadii(angles=np.full(8, 500.0) + np.arange(8), radii=np.linspace(0.1, 0.36, 8),
                      error=1e-3)  # fmt: skip
        gx, gy = (g.ravel() for g in np.meshgrid(np.linspace(0, 2, 5), np.linspace(0, 1, 4)))
        flat = np.column_stack((gx, gy, 0.001 * gx * gy))
        with pytest.raises(SurveyError, match="swapped"):
            SurfacePoints(points=flat[:, [0, 2, 1]], error=1e-3)

    def test_angles_in_radians(self, tmp_path):
        rows = "\n".join(f"{t:.3f},500" for t in np.linspace(0, 6, 9))
        with pytest.raises(SurveyError, match="look like radians"):
            read_survey(file_of(tmp_path, f"angle_deg,radius_mm\n{rows}\n"), error_mm=0.3)

    def test_too_few_and_twice(self):
        with pytest.raises(SurveyError, match="3 or more"):
            StringLine(stations=[0, 1.0], offsets=[0, 0.0], error=1e-3)
        with pytest.raises(SurveyError, match="4 or more"):
            SurfacePoints(points=[[0, 0, 0], [1, 0, 0], [0, 1, 0.0]], error=1e-3)
        with pytest.raises(SurveyError, match="6 or more"):
            RingRadii(angles=[0, 1, 2, 3, 4.0], radii=[1.0] * 5, error=1e-3)
        with pytest.raises(SurveyError, match="foot and top"):
            PlumbLine(heights=[3.0], offsets_x=[0.0], offsets_y=[0.0], error=1e-3)
        with pytest.raises(SurveyError, match="read 2 times"):
            StringLine(stations=[0, 1, 1, 2.0], offsets=[0, 0, 0, 0.0], error=1e-3)
        with pytest.raises(SurveyError, match="on one line"):
            SurfacePoints(points=[[x, 2 * x, 0] for x in range(5)], error=1e-3)
        with pytest.raises(SurveyError, match="above 0"):
            StringLine(stations=[0, 1, 2.0], offsets=[0, 0, 0.0], error=0.0)

    def test_a_gap_round_a_ring_and_few_readings_are_told(self):
        t = np.radians([0, 20, 40, 60, 80, 100, 300])
        radii = 0.5 + 0.001 * np.cos(3 * t)
        remarks = RingRadii(angles=t, radii=radii, error=1e-4).against().remarks
        assert any("200 deg" in remark for remark in remarks)
        assert any("hardly anything of more waves" in remark for remark in remarks)


class TestFiles:
    def test_every_kind_is_known_by_its_columns(self, tmp_path):
        ring = "\n".join(f"{a};{500 + a / 90:.1f}".replace(".", ",") for a in range(0, 360, 45))
        texts = {
            StringLine: "station_mm,offset_mm\n0,0\n1000,2\n2000,0\n",
            PlumbLine: "offset_x_mm,height_mm,offset_y_mm\n0,0,1\n5,8000,2\n",
            RingRadii: f"# measured cold\nangle_deg;radius_mm\n{ring}\n",
            SurfacePoints: "x_mm,y_mm,z_mm,error_mm\n0,0,0,1\n900,0,1,1\n0,800,1,2\n900,800,3,1\n",
        }
        for kind, text in texts.items():
            survey = read_survey(file_of(tmp_path, text), error_mm=0.5)
            assert isinstance(survey, kind)
            assert np.isfinite(survey.against().values).all()

    def test_faults_are_told_at_once_with_their_lines(self, tmp_path):
        text = "station_mm,offset_mm\n0,0\n1000,two\n2000,\n3000,1,5\n4000,0\n"
        with pytest.raises(CsvFaults) as caught:
            read_survey(file_of(tmp_path, text), error_mm=0.5)
        assert [fault[:6] for fault in caught.value.faults] == ["line 3", "line 4", "line 5"]

    def test_a_wrong_unit_in_the_name_of_a_column(self, tmp_path):
        with pytest.raises(CsvFaults, match=r'"station_m" can not stand for it'):
            read_survey(file_of(tmp_path, "station_m,offset_mm\n0,0\n1,1\n2,0\n"), error_mm=1)
        with pytest.raises(CsvFaults, match="no kind of survey"):
            read_survey(file_of(tmp_path, "a,b\n0,0\n"), error_mm=1)

    def test_the_instruments_error_must_be_told(self, tmp_path):
        path = file_of(tmp_path, "station_mm,offset_mm\n0,0\n1000,2\n2000,0\n")
        with pytest.raises(OutOfRange, match="1 sigma"):
            read_survey(path)
        with pytest.raises(OutOfRange, match="0 mm"):
            read_survey(path, error_mm=0.0)

    def test_the_file_is_named_where_readings_cannot_be(self, tmp_path):
        path = file_of(tmp_path, "station_mm,offset_mm\n0,0\n6,0.01\n12,0\n")
        with pytest.raises(SurveyError, match=r"survey.csv can't be used(.|\n)*metres"):
            read_survey(path, error_mm=0.5, length_mm=12000)

    def test_remarks_become_warnings(self):
        with pytest.warns(FlamefeWarning, match="a.csv: odd"):
            warn_of(("odd",), "a.csv")
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            warn_of((), "a.csv")


@pytest.mark.parametrize("wrong", [0, 1, 9, 10])
def test_a_wrong_reading_at_the_end_of_a_string_is_told(wrong):
    """Everything hangs on the ends: 40 mm there would tilt all other values."""
    x = np.linspace(0.0, 12.0, 11)
    random = np.random.default_rng(5)
    y = 0.014 * np.sin(np.pi * x / 12.0) + random.normal(0.0, 3e-4, 11)
    right = StringLine(stations=x, offsets=y, error=4e-4).against()
    assert not any("stands off" in remark for remark in right.remarks)
    y[wrong] += 0.04
    found = StringLine(stations=x, offsets=y, error=4e-4).against()
    (remark,) = [one for one in found.remarks if "stands off" in one]
    assert remark.startswith(f"{found.names[wrong]}:")


def test_a_kinked_member_is_not_taken_for_wrong_readings():
    x = np.linspace(0.0, 12.0, 11)
    for at in (4.0, 6.0, 8.0):
        kink = np.minimum(x / at, (12.0 - x) / (12.0 - at)) * 0.02
        found = StringLine(stations=x, offsets=kink, error=4e-4).against()
        assert not any("stands off" in remark for remark in found.remarks), at


def test_a_wrong_height_among_fifteen_is_told():
    grid = np.array([(x, y) for y in (0, 0.6, 1.2) for x in (0, 0.6, 1.2, 1.8, 2.4)])
    bowed = 1e-3 * (2 * grid[:, 0] + 4 * (grid[:, 1] - 0.6) ** 2)
    random = np.random.default_rng(3)
    bowed += random.normal(0.0, 2e-4, 15)
    right = SurfacePoints(points=np.column_stack((grid, bowed)), error=3e-4).against()
    assert not any("stands off" in remark for remark in right.remarks)
    bowed[7] += 0.08
    found = SurfacePoints(points=np.column_stack((grid, bowed)), error=3e-4).against()
    (remark,) = [one for one in found.remarks if "stands off" in one]
    assert remark.startswith("(1200, 600) mm")


def test_plumb_offsets_in_metres_are_told():
    found = PlumbLine(
        heights=[0, 5, 10, 15, 20], offsets_x=1e-3 * np.array([0.0, 0.02, 0.03, 0.05, 0.07]),
        offsets_y=np.zeros(5), error=1e-3,
    ).against()  # fmt: skip
    assert any("along X" in remark and "metres or inches" in remark for remark in found.remarks)


def test_a_wrong_height_in_two_rows_of_readings_is_told():
    """Two rows know of no bend across them; along them they do."""
    grid = np.array([(x, y) for y in (0.0, 1.0) for x in np.linspace(0.0, 2.1, 8)])
    random = np.random.default_rng(4)
    heights = 4e-3 * (grid[:, 0] / 2.1 - 0.5) ** 2 + random.normal(0.0, 2e-4, 16)
    right = SurfacePoints(points=np.column_stack((grid, heights)), error=3e-4).against()
    assert not any("stands off" in remark for remark in right.remarks)
    heights[5] += 0.02
    found = SurfacePoints(points=np.column_stack((grid, heights)), error=3e-4).against()
    (remark,) = [one for one in found.remarks if "stands off" in one]
    assert remark.startswith(f"{found.names[5]}:")
