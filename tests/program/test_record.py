"""QA's road: sign in every role, verify with and without vacuary, archive, notice what was changed."""
import shutil
import subprocess
import unittest

from program import TROUBLED, ProgramTest

NAMESPACE = "run-statement@vacuary"
ROLES = ("process engineer", "operator", "quality")


@unittest.skipIf(shutil.which("ssh-keygen") is None, "needs ssh-keygen")
class Record(ProgramTest):
    def setUp(self):
        super().setUp()
        lines = []
        for role in ROLES:
            key = self.folder / role.replace(" ", "-")
            subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", role, "-f", key], check=True)
            public = key.with_suffix(".pub").read_text().split()
            lines.append(f'{key.name} namespaces="{NAMESPACE}" {public[0]} {public[1]}\n')
        (self.folder / "signers").write_text("".join(lines))
        self.ingest(TROUBLED, "-o", "run", status=1)

    def sign(self, role, status=0):
        return self.run_program("sign", "run", "--as", role, "--name", "R. Calder", "--key", role.replace(" ", "-"), "--disposition", "accept",
                                "--reason", "thin sector accepted, watch it", "--signers", "signers", status=status)

    def test_signed_in_order_verified_and_archived(self):
        self.sign("operator", status=2)  # not its turn
        for role in ROLES[:2]:
            self.sign(role)
        self.run_program("verify", "run", "--signers", "signers", status=1)  # quality has not signed
        self.sign(ROLES[2])
        self.run_program("verify", "run", "--signers", "signers")

        # Without vacuary.
        run = self.folder / "run"
        for manifest in ("tagmanifest-sha256.txt", "manifest-sha256.txt"):
            subprocess.run(["sha256sum", "--quiet", "--strict", "-c", manifest], cwd=run, check=True)
        statements = sorted((run / "signatures").glob("*.txt"))
        self.assertEqual(len(statements), 3)
        for role, statement in zip(ROLES, statements):
            with open(statement, "rb") as text:
                subprocess.run(["ssh-keygen", "-Y", "verify", "-f", self.folder / "signers", "-I", role.replace(" ", "-"),
                                "-n", NAMESPACE, "-s", f"{statement}.sig"], stdin=text, check=True, capture_output=True)

        # A sealed run is not written over.
        self.ingest(TROUBLED, "-o", "run", "--force", status=2)

        self.run_program("archive", "create", "archive")
        self.run_program("archive", "add", "archive", "run", "--signers", "signers")
        self.assertIn("Tarn Ridge", self.run_program("archive", "list", "archive", "aluminium").stdout)
        self.run_program("verify", "archive", "--signers", "signers")
        self.run_program("archive", "export", "archive", "1", "copy")
        self.run_program("verify", "copy", "--signers", "signers")

        victim = next((self.folder / "archive").rglob("report.json"))
        victim.chmod(0o644)
        victim.write_bytes(victim.read_bytes().replace(b"review", b"within", 1))
        self.assertIn("report.json", self.run_program("verify", "archive", "--signers", "signers", status=1).stderr)


if __name__ == "__main__":
    unittest.main()
