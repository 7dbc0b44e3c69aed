"""The main job from the command line: what is printed, what is written, what the exit status says."""
import csv
import hashlib
import json
import os
import pty
import subprocess
import unittest
import xml.dom.minidom

from program import CHANNELS, CLEAN, PROGRAM, RECIPE, SOURCE, TROUBLED, ProgramTest

SARIF_SCHEMA = "@microsoft/jest-sarif/lib/schemas/sarif-2.1.0-rtm.5.json"


class Check(ProgramTest):
    def test_the_sample_recipe_has_no_findings(self):
        done = self.run_program("check", RECIPE)
        self.assertIn("no findings\n", done.stdout)
        self.assertEqual(done.stderr, "")

    def test_json_keeps_to_its_schema(self):
        (self.folder / "good.json").write_text(self.run_program("check", RECIPE, "--format", "json").stdout)
        self.break_recipe('power = "15 kW"', 'power = "25 kW"')
        (self.folder / "bad.json").write_text(self.run_program("check", RECIPE, "--format", "json", status=1).stdout)
        self.assertTrue(json.loads((self.folder / "bad.json").read_text())["findings"])
        self.validate("2020", SOURCE / "schemas/findings.schema.json", self.folder / "good.json", self.folder / "bad.json")

    def test_sarif_keeps_to_the_published_schema(self):
        (self.folder / "good.sarif").write_text(self.run_program("check", RECIPE, "--format", "sarif").stdout)
        self.break_recipe('power = "15 kW"', 'power = "25 kW"\npowr = 3')
        (self.folder / "bad.sarif").write_text(self.run_program("check", RECIPE, "--format", "sarif", status=1).stdout)
        results = json.loads((self.folder / "bad.sarif").read_text())["runs"][0]["results"]
        self.assertTrue(any(r["ruleId"] == "unknown-key" for r in results))
        self.validate("4", SARIF_SCHEMA, self.folder / "good.sarif", self.folder / "bad.sarif")

    def test_the_validator_does_not_pass_anything(self):
        wrong = self.folder / "wrong.sarif"
        wrong.write_text('{"version": "2.1.0", "runs": [{"results": [{"level": "fatal"}]}]}')
        with self.assertRaises(AssertionError):
            self.validate("4", SARIF_SCHEMA, wrong)

    def break_recipe(self, old, new):
        path = self.folder / RECIPE
        text = path.read_text()
        self.assertIn(old, text)
        path.write_text(text.replace(old, new, 1))


class Explain(ProgramTest):
    def test_every_listed_rule_is_explained(self):
        names = [line.split()[0] for line in self.run_program("explain").stdout.splitlines()]
        self.assertGreater(len(names), 25)
        for name in names[:5] + names[-5:]:
            self.assertTrue(self.run_program("explain", name).stdout.startswith(name))

    def test_a_slip_of_the_pen_gets_a_suggestion(self):
        done = self.run_program("explain", "unknwon-key", status=2)
        self.assertIn("did you mean 'unknown-key'?", done.stderr)


class Ingest(ProgramTest):
    def test_a_clean_run_is_within_limits(self):
        report = json.loads(self.ingest(CLEAN, "--format", "json").stdout)
        self.assertEqual(report["verdict"], "within_limits")
        self.assertEqual(report["deviations"], [])
        truth = json.loads((self.folder / "logs-example/clean.truth.json").read_text())
        mean = report["film"]["mean_thickness"]
        self.assertLess(abs(mean["value"] - true_mean_nm(truth)), mean["expanded_uncertainty"])

    def test_the_run_folder_is_a_bag_a_stranger_can_check(self):
        self.ingest(TROUBLED, "-o", "run", status=1)
        run = self.folder / "run"
        for manifest in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
            subprocess.run(["sha256sum", "--strict", "--quiet", "-c", manifest], cwd=run, check=True)
        for name in ("report.json", "report.txt", "report.html"):
            self.assertTrue((run / "data/report" / name).is_file())
        # Byte for byte as received.
        self.assertEqual((run / "data/log/troubled.csv").read_bytes(), (self.folder / TROUBLED).read_bytes())
        self.assertEqual((run / "data/plan/chamber.toml").read_bytes(),
                         (self.folder / "recipes/tarn-ridge/chamber.toml").read_bytes())

    def test_the_report_keeps_to_its_schema(self):
        for log, status in ((CLEAN, 0), (TROUBLED, 1)):
            self.ingest(log, "-o", log.replace("/", "-"), status=status)
        self.validate("2020", SOURCE / "schemas/report.schema.json",
                      *(self.folder / log.replace("/", "-") / "data/report/report.json" for log in (CLEAN, TROUBLED)))

    def test_the_same_input_gives_the_same_bytes(self):
        hashes = set()
        for name in ("one", "two"):
            self.ingest(TROUBLED, "-o", name, status=1)
            hashes.add(hashlib.sha256((self.folder / name / "manifest-sha256.txt").read_bytes()).hexdigest())
        self.assertEqual(len(hashes), 1)

    def test_a_log_in_several_files_is_the_same_run_and_each_is_filed_whole(self):
        lines = (self.folder / CLEAN).read_text().splitlines()
        half = len(lines) // 2
        gauges = [i for i, name in enumerate(lines[0].split(",")) if i == 0 or "pressure" in name]
        others = [i for i, name in enumerate(lines[0].split(",")) if i == 0 or "pressure" not in name]

        def write(name, columns, rows):
            cells = [[line.split(",")[i] for i in columns] for line in [lines[0], *rows]]
            (self.folder / name).write_text("".join(",".join(row) + "\n" for row in cells))

        write("gauges.csv", gauges, lines[1:])
        write("others-1.csv", others, lines[1:half])
        write("others-2.csv", others, lines[half:])
        (self.folder / "nothing.csv").write_text("")
        files = ["others-2.csv", "nothing.csv", "gauges.csv", "others-1.csv"]
        done = self.run_program("ingest", RECIPE, *files, "--channels", CHANNELS, "-o", "run")
        self.assertIn("nothing.csv: warning: the log is empty", done.stderr)
        whole = json.loads(self.ingest(CLEAN, "--format", "json").stdout)
        report = json.loads((self.folder / "run/data/report/report.json").read_text())
        # Where one file follows another something may be missing, so the sums there are not quite the same.
        for key in ("value", "expanded_uncertainty"):
            self.assertAlmostEqual(report["film"]["mean_thickness"][key] / whole["film"]["mean_thickness"][key], 1, 5)
        self.assertEqual(report["deviations"], whole["deviations"])
        write("others.csv", others, lines[1:])
        of_two = json.loads(self.run_program("ingest", RECIPE, "others.csv", "gauges.csv", "--channels", CHANNELS,
                                             "--format", "json").stdout)
        for key in ("film", "deviations", "verdict"):
            self.assertEqual(of_two[key], whole[key])
        for name in files:
            self.assertEqual((self.folder / "run/data/log" / name).read_bytes(), (self.folder / name).read_bytes())
        self.run_program("verify", "run", status=None)

    def test_without_a_run_folder_nothing_is_written(self):
        before = self.listing()
        self.ingest(CLEAN)
        self.assertEqual(self.listing(), before)


class Measured(ProgramTest):
    SHEET = "recipes/tarn-ridge/measured.toml"

    def test_what_was_measured_is_held_against_the_run_and_filed(self):
        self.ingest(CLEAN, "--measured", self.SHEET, "-o", "run", status=None)
        report = json.loads((self.folder / "run/data/report/report.json").read_text())
        names = [one["name"] for one in report["film"]["estimates"]["each"]]
        self.assertEqual(names, ["energy", "witness 3", "target mass"])
        self.assertTrue(report["film"]["estimates"]["decides"])
        self.assertAlmostEqual(sum(one["weight"] for one in report["film"]["estimates"]["each"]), 1)
        self.assertEqual([one["met"] for one in report["quality"]["reflectance_measured"]], ["met", None])
        self.assertEqual((self.folder / "run/data/measured/measured.toml").read_bytes(),
                         (self.folder / self.SHEET).read_bytes())
        self.validate("2020", SOURCE / "schemas/report.schema.json",
                      self.folder / "run/data/report/report.json")

    def test_a_target_that_is_not_there_is_pointed_at(self):
        sheet = self.folder / "sheet.toml"
        sheet.write_text((self.folder / self.SHEET).read_text() +
                         '\n[[target]]\ncathode = "cathod"\nlost = "5 g"\nuncertainty = "0.1 g"\n')
        done = self.ingest(CLEAN, "--measured", "sheet.toml", status=2)
        self.assertIn("the chamber has no cathode 'cathod' [unknown-reference]", done.stderr)
        self.assertIn("sheet.toml:", done.stderr)


class Channels(ProgramTest):
    EXPORT = "Trend;plant 2\r\n\r\nDatum;Zeit;Ion 1;Argon [sccm];U (V);Phase\r\n;;mbar;;;\r\n" + "".join(
        f"04.03.2031;05:06:{s:02};1,{s}e-3;250,{s % 10};48{s % 10},5;coat\r\n" for s in range(30))

    def setUp(self):
        super().setUp()
        (self.folder / "export.csv").write_bytes(self.EXPORT.encode("latin-1"))

    def test_a_first_map_is_printed_and_its_guesses_are_marked(self):
        done = self.run_program("channels", "export.csv")
        for line in ('delimiter = ";"', 'decimal = ","  # CONFIRM', "preamble_lines = 2  # CONFIRM",
                     "units_line = true  # CONFIRM", 'date_column = "Datum"  # CONFIRM', 'column = "Phase"  # CONFIRM'):
            self.assertIn(line, done.stdout)
        self.assertIn('# zone = ""  # STATE', done.stdout)
        self.assertRegex(done.stderr, r"^\d+ guesses to confirm, \d+ things? to state")

    def test_the_map_is_asked_for_what_is_not_stated_and_then_reads_the_log(self):
        done = self.run_program("channels", "export.csv", "--recipe", RECIPE, "-o", "map.toml")
        self.assertEqual(done.stdout, "")
        text = (self.folder / "map.toml").read_text()
        self.assertIn('channel = "ion.pressure"  # CONFIRM', text)
        self.assertIn('channel = "argon.flow"  # CONFIRM', text)
        self.assertIn("STATE which device it is: cathode-supply or glow-supply", text)
        asked = self.run_program("ingest", RECIPE, "export.csv", "--channels", "map.toml", status=2)
        self.assertIn("needs 'zone'", asked.stderr)
        self.assertIn("u.voltage", asked.stderr)
        stated = text.replace('# zone = ""', 'zone = "Europe/Madrid"').replace('"u.voltage"', '"cathode-supply.voltage"')
        (self.folder / "map.toml").write_text(stated)
        report = json.loads(self.run_program("ingest", RECIPE, "export.csv", "--channels", "map.toml", "--format",
                                             "json", status=1).stdout)
        self.assertEqual(report["log"]["rows"], 30)
        self.assertEqual(report["log"]["start"], "2031-03-04T04:06:00Z")
        self.assertEqual(report["log"]["oddities"], [])

    def test_an_existing_map_is_kept(self):
        (self.folder / "map.toml").write_text("mine")
        self.run_program("channels", "export.csv", "-o", "map.toml", status=2)
        self.assertEqual((self.folder / "map.toml").read_text(), "mine")
        self.run_program("channels", "export.csv", "-o", "map.toml", "--force")
        self.assertTrue((self.folder / "map.toml").read_text().startswith("# First channel map for export.csv"))

    def test_what_is_no_table_is_refused(self):
        (self.folder / "words.txt").write_text("no table\nat all\n")
        self.assertIn("no table was found", self.run_program("channels", "words.txt", status=2).stderr)


class Rehearse(ProgramTest):
    def test_a_rehearsed_log_comes_back_as_rehearsed(self):
        self.run_program("rehearse", RECIPE, "-o", "practice.csv", "--seed", "5", "--channels", CHANNELS)
        report = json.loads(self.ingest("practice.csv", "--format", "json").stdout)
        truth = json.loads((self.folder / "practice.truth.json").read_text())
        mean = report["film"]["mean_thickness"]
        self.assertLess(abs(mean["value"] - true_mean_nm(truth)), 1.5 * mean["expanded_uncertainty"])

    def test_the_same_seed_gives_the_same_log(self):
        for name in ("a.csv", "b.csv"):
            self.run_program("rehearse", RECIPE, "-o", name, "--seed", "9", "--fault", "trip")
        self.assertEqual((self.folder / "a.csv").read_bytes(), (self.folder / "b.csv").read_bytes())

    def test_faults_are_listed_and_misspelt_ones_suggested(self):
        self.assertIn("trip", self.run_program("rehearse", "--faults").stdout)
        done = self.run_program("rehearse", RECIPE, "-o", "x.csv", "--fault", "tripp", status=2)
        self.assertIn("trip", done.stderr)
        self.assertFalse((self.folder / "x.csv").exists())


STRIP = "recipes/tarn-ridge/strip.toml"


class Calibrate(ProgramTest):
    def test_the_sample_strip_gives_its_truth_and_a_block(self):
        before = (self.folder / "recipes/tarn-ridge/chamber.toml").read_bytes()
        done = self.run_program("calibrate", RECIPE, STRIP, "--format", "json", "-o", "block.toml")
        (self.folder / "calibration.json").write_text(done.stdout)
        found = json.loads(done.stdout)
        for key, truth in (("film_per_energy_nm_per_kwh", 30.6), ("emission_exponent", 1.15), ("diffuse_share", 0.35),
                           ("opening_mm", 1.5)):
            p = found["parameters"][key]
            self.assertLess(abs(p["value"] - truth), 2.5 * p["standard_uncertainty"], key)
        self.assertEqual((self.folder / "block.toml").read_text(), found["block"])
        self.assertEqual((self.folder / "recipes/tarn-ridge/chamber.toml").read_bytes(), before)
        self.run_program("calibrate", RECIPE, STRIP, "-o", "block.toml", status=2)  # nothing is replaced unasked
        self.validate("2020", SOURCE / "schemas/calibration.schema.json", self.folder / "calibration.json")

    def test_a_wrong_strip_is_told_with_its_place(self):
        path = self.folder / STRIP
        path.write_text(path.read_text().replace('shield = "trim-3"', 'shield = "trim-2"'))
        done = self.run_program("calibrate", RECIPE, STRIP, status=2)
        self.assertIn("strip.toml:13:", done.stderr)
        self.assertIn("trim-2", done.stderr)
        self.run_program("calibrate", RECIPE, "nowhere.csv", status=2)


class Shield(ProgramTest):
    def test_drawing_table_and_text_agree(self):
        self.run_program("shield", RECIPE, "--uniformity", "2 %", "-o", "shield")
        folder = self.folder / "shield"
        found = json.loads((folder / "shield.json").read_text())
        self.assertTrue(found["reached"])
        self.assertLess(found["proposed"]["uniformity"], 0.02)
        svg = xml.dom.minidom.parse(str(folder / "shield.svg"))
        words = [t.firstChild.data for t in svg.getElementsByTagName("text")]
        rows = list(csv.DictReader((folder / "shield.csv").read_text().splitlines()))
        self.assertEqual(len(rows), len(found["table"]))
        for row, entry in zip(rows, found["table"]):
            self.assertAlmostEqual(float(row["open_width [mm]"]), entry["open_width_mm"], places=2)
            self.assertAlmostEqual(float(row["edge_left [mm]"]), entry["open_width_mm"] / 2, places=2)
            self.assertIn(f"{entry['open_width_mm'] / 2:.2f}", words)
        self.assertEqual(svg.documentElement.getAttribute("width"), "420mm")
        self.validate("2020", SOURCE / "schemas/shield.schema.json", folder / "shield.json")
        self.run_program("shield", RECIPE, "-o", "shield", status=2)  # nothing is replaced unasked

    def test_the_same_input_gives_the_same_bytes(self):
        for name in ("one", "two"):
            self.run_program("shield", RECIPE, "-o", name)
        for name in ("shield.svg", "shield.json", "shield.csv", "shield.toml"):
            self.assertEqual((self.folder / "one" / name).read_bytes(), (self.folder / "two" / name).read_bytes())

    def test_bad_wishes_are_told(self):
        self.assertIn("unit", self.run_program("shield", RECIPE, "--uniformity", "2", status=2).stderr)
        self.assertIn("--height", self.run_program("shield", RECIPE, "--height", "300 mm", status=2).stderr)


class CommandLine(ProgramTest):
    def test_help_has_an_example(self):
        for command in ("check", "rehearse", "ingest", "channels", "calibrate", "shield", "explain"):
            self.assertIn("Example:", self.run_program(command, "--help").stdout)

    def test_a_misspelt_command_gets_a_suggestion(self):
        self.assertIn("did you mean 'check'?", self.run_program("chekc", RECIPE, status=2).stderr)

    def test_colour_only_on_a_terminal(self):
        self.assertNotIn("\x1b", self.ingest(TROUBLED, status=1).stdout)
        ours, theirs = pty.openpty()
        child = subprocess.Popen([PROGRAM, "ingest", RECIPE, TROUBLED, "--channels", CHANNELS], cwd=self.folder,
                                 stdout=theirs, stderr=subprocess.DEVNULL,
                                 env={k: v for k, v in os.environ.items() if k != "NO_COLOR"})
        os.close(theirs)
        shown = b""
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:
                break
            if not part:
                break
            shown += part
        child.wait()
        os.close(ours)
        self.assertIn(b"\x1b[1;", shown)


def true_mean_nm(truth):
    return truth["film"]["mean_nm"]


if __name__ == "__main__":
    unittest.main()
