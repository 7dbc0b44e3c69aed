"""What the program tests share: a scratch folder that looks like a checkout, and running the program in it."""
import os
import pathlib
import shutil
import subprocess
import tempfile
import unittest

PROGRAM = pathlib.Path(os.environ["VACUARY_PROGRAM"])
SOURCE = pathlib.Path(os.environ["VACUARY_SOURCE"])
NODE_MODULES = pathlib.Path(os.environ["VACUARY_NODE_MODULES"])

RECIPE = "recipes/tarn-ridge/aluminium-90nm.toml"
CHANNELS = "recipes/tarn-ridge/channels.toml"
CLEAN = "logs-example/clean.csv"
TROUBLED = "logs-example/troubled.csv"


class ProgramTest(unittest.TestCase):
    maxDiff = None

    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="vacuary-test-"))
        self.addCleanup(shutil.rmtree, self.folder, ignore_errors=True)
        for name in ("recipes", "logs-example", "schemas"):
            shutil.copytree(SOURCE / name, self.folder / name)
        (self.folder / "build").mkdir()
        (self.folder / "build" / "vacuary").symlink_to(PROGRAM)

    def run_program(self, *arguments, status=0, **options):
        done = subprocess.run([PROGRAM, *map(str, arguments)], cwd=self.folder, capture_output=True, text=True,
                              timeout=120, **options)
        self.assertTrue(done.returncode in (0, 1) if status is None else done.returncode == status,  # None: done, whatever was found
                        f"{arguments}\n{done.stdout}\n{done.stderr}")
        return done

    def ingest(self, log, *more, status=0):
        return self.run_program("ingest", RECIPE, log, "--channels", CHANNELS, *more, status=status)

    def listing(self):
        """Every file below the scratch folder, to see what a command left behind."""
        return sorted(str(p.relative_to(self.folder)) for p in self.folder.rglob("*"))

    def validate(self, kind, schema, *files):
        """Holds JSON files against a schema with the validator from npm; skips when npm is not there."""
        node = shutil.which("node")
        if node is None or not (NODE_MODULES / "ajv").exists():
            self.skipTest("node or the npm packages of tests/npm are missing: run tools/run-tests")
        done = subprocess.run([node, SOURCE / "tests/npm/validate.mjs", NODE_MODULES, kind, schema, *files],
                              capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
