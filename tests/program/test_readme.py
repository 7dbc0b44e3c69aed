"""Every command of the README is run, and its output there is what comes out.

Console blocks hold lines '$ command' and what the command prints; a line '...' stands for any number of lines.
Commands that install or build are not run here.
"""
import re
import subprocess
import unittest

from program import SOURCE, ProgramTest

NOT_RUN = ("tools/", "cmake ", "git ")


def sessions(text):
    for block in re.findall(r"^```console\n(.*?)^```", text, re.M | re.S):
        session = []
        for line in block.splitlines():
            if line.startswith("$ "):
                session.append([line[2:], []])
            elif session and session[-1][0].endswith("\\"):
                session[-1][0] = session[-1][0][:-1] + line.strip()
            elif session:
                session[-1][1].append(line)
        yield session


def pattern(lines):
    parts = []
    for line in lines:
        parts.append(r"(?:.*\n)*?" if line.strip() == "..." else re.escape(line) + r"\n")
    return re.compile("".join(parts) + r"\Z")


class Readme(ProgramTest):
    def test_every_command_prints_what_the_readme_says(self):
        ran = 0
        for session in sessions((SOURCE / "README.md").read_text()):
            for command, expected in session:
                if command.startswith(NOT_RUN):
                    continue
                # Through a shell, as a reader types it: README commands use pipes and $?.
                done = subprocess.run(["bash", "-c", command], cwd=self.folder, stdout=subprocess.PIPE,
                                      stderr=subprocess.STDOUT, text=True, timeout=120)
                self.assertLess(done.returncode, 2, f"{command}\n{done.stdout}")
                if expected:
                    shown = "\n".join(line.rstrip() for line in done.stdout.rstrip("\n").splitlines()) + "\n"
                    self.assertRegex(shown, pattern([line.rstrip() for line in expected]), command)
                ran += 1
        self.assertGreater(ran, 5)

    def test_the_readme_opens_with_the_job(self):
        first = (SOURCE / "README.md").read_text().split("\n\n")
        self.assertTrue(first[0].startswith("# vacuary"))
        self.assertGreater(len(first[1]), 300)
        self.assertNotIn("\n#", first[1])


if __name__ == "__main__":
    unittest.main()
