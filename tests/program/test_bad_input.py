"""Files that are empty, binary, huge, cut, not UTF-8, folders, unreadable or contradict each other."""
import os
import pathlib
import stat
import subprocess
import unittest

from program import CHANNELS, CLEAN, PROGRAM, RECIPE, TROUBLED, ProgramTest


class BadInput(ProgramTest):
    def bad_files(self):
        made = {
            "empty": b"",
            "binary": bytes(range(256)) * 64,
            "utf16.csv": "time,chamber.pressure [Pa]\n".encode("utf-16"),
            "latin1": b"name = \"caf\xe9\"\n",
            "cut.toml": (self.folder / RECIPE).read_bytes()[:700],
            "one-long-line": b"x" * 3_000_000,
            "nested": b"a = " + b"[" * 100_000,
        }
        for name, content in made.items():
            (self.folder / name).write_bytes(content)
        (self.folder / "huge").touch()
        os.truncate(self.folder / "huge", 40 << 20)
        (self.folder / "folder").mkdir()
        os.mkfifo(self.folder / "pipe")
        return [*made, "huge", "folder", "pipe", "not-there", "/dev/null"]

    def assert_told(self, done, name):
        self.assertIn(done.returncode, (1, 2), f"{name}: {done.returncode}\n{done.stdout}\n{done.stderr}")
        said = done.stdout + done.stderr
        self.assertIn("error: ", said, name)
        self.assertNotIn("internal fault", said, name)
        self.assertLess(len(said), 20_000, f"{name}: a wall of complaints")

    def test_as_recipe(self):
        for name in self.bad_files():
            for command in (["check", name], ["ingest", name, CLEAN], ["rehearse", name, "-o", "out.csv"]):
                before = self.listing()
                done = subprocess.run([PROGRAM, *command], cwd=self.folder, capture_output=True, text=True, timeout=60)
                self.assert_told(done, f"{command}")
                self.assertEqual(self.listing(), before, f"{command} left something behind")

    def test_as_log(self):
        for name in self.bad_files():
            before = self.listing()
            done = subprocess.run([PROGRAM, "ingest", RECIPE, name, "-o", "run"], cwd=self.folder, capture_output=True,
                                  text=True, timeout=60)
            self.assert_told(done, f"log {name}")
            self.assertEqual(done.returncode, 2, f"log {name}: {done.stdout}")
            self.assertEqual(self.listing(), before, f"log {name} left something behind")

    def test_as_channel_map(self):
        for name in self.bad_files():
            done = subprocess.run([PROGRAM, "ingest", RECIPE, CLEAN, "--channels", name, "-o", "run"], cwd=self.folder,
                                  capture_output=True, text=True, timeout=60)
            self.assert_told(done, f"channel map {name}")
            self.assertFalse((self.folder / "run").exists())

    def test_a_recipe_as_log_and_a_log_as_recipe(self):
        self.assertIn("error: ", self.run_program("ingest", RECIPE, RECIPE, status=2).stderr)
        done = subprocess.run([PROGRAM, "check", CLEAN], cwd=self.folder, capture_output=True, text=True)
        self.assert_told(done, "log as recipe")

    def test_a_log_cut_anywhere_is_still_accounted_for(self):
        whole = (self.folder / TROUBLED).read_bytes()
        for share in (0.02, 0.3, 0.77, 0.9, 0.999):
            (self.folder / "cut.csv").write_bytes(whole[:int(len(whole) * share)])
            done = subprocess.run([PROGRAM, "ingest", RECIPE, "cut.csv", "--channels", CHANNELS], cwd=self.folder,
                                  capture_output=True, text=True, timeout=60)
            self.assertEqual(done.returncode, 1, done.stderr)
            self.assertNotIn("within limits", done.stdout.split("Film")[0])

    def test_nothing_is_overwritten_without_force(self):
        self.ingest(CLEAN, "-o", "run")
        first = (self.folder / "run/manifest-sha256.txt").read_bytes()
        done = self.ingest(TROUBLED, "-o", "run", status=2)
        self.assertIn("[would-overwrite]", done.stderr)
        self.assertEqual((self.folder / "run/manifest-sha256.txt").read_bytes(), first)
        self.ingest(TROUBLED, "-o", "run", "--force", status=1)
        self.assertNotEqual((self.folder / "run/manifest-sha256.txt").read_bytes(), first)

        self.run_program("rehearse", RECIPE, "-o", "practice.csv")
        log = (self.folder / "practice.csv").read_bytes()
        self.run_program("rehearse", RECIPE, "-o", "practice.csv", "--seed", "2", status=2)
        self.assertEqual((self.folder / "practice.csv").read_bytes(), log)

    def test_force_does_not_replace_what_is_no_run(self):
        precious = self.folder / "precious"
        precious.mkdir()
        (precious / "thesis.txt").write_text("ten years")
        self.ingest(CLEAN, "-o", "precious", "--force", status=2)
        self.assertEqual((precious / "thesis.txt").read_text(), "ten years")

    def test_a_full_disk_behind_the_output_is_not_success(self):
        if not pathlib.Path("/dev/full").exists():
            self.skipTest("no /dev/full here")
        with open("/dev/full", "w") as full:
            done = subprocess.run([PROGRAM, "check", RECIPE], cwd=self.folder, stdout=full, stderr=subprocess.PIPE, text=True)
        self.assertEqual(done.returncode, 2)
        self.assertIn("cannot write to standard output", done.stderr)

    def test_lost_permission(self):
        """As another user: root passes every permission test."""
        if os.geteuid() != 0:
            self.skipTest("needs root to become another user")
        log = self.folder / CLEAN
        log.chmod(0)
        self.folder.chmod(0o755)
        done = self.as_nobody("ingest", RECIPE, CLEAN)
        self.assertEqual(done.returncode, 2)
        self.assertIn("Permission denied", done.stderr)
        log.chmod(stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)
        done = self.as_nobody("ingest", RECIPE, CLEAN, "-o", "run")
        self.assertEqual(done.returncode, 2)
        self.assertFalse((self.folder / "run").exists())

    def as_nobody(self, *arguments):
        def drop():
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
        # The program may stand where that user cannot look: hand it over as an open file.
        with open(PROGRAM, "rb") as program:
            fd = program.fileno()
            return subprocess.run([f"/proc/self/fd/{fd}", *arguments], cwd=self.folder, capture_output=True, text=True,
                                  pass_fds=[fd], preexec_fn=drop)


if __name__ == "__main__":
    unittest.main()
