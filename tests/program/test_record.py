"""QA's road: sign in every role, stamp, verify with and without vacuary, revise, archive, follow, and notice what was changed."""
import csv
import hashlib
import html.parser
import io
import json
import os
import re
import shutil
import subprocess
import unittest

from program import CHANNELS, RECIPE, SOURCE, TROUBLED, ProgramTest

NAMESPACE = "run-statement@vacuary"
ROLES = ("process engineer", "operator", "quality")


def key_of(role):
    return role.replace(" ", "-")


@unittest.skipIf(shutil.which("ssh-keygen") is None, "needs ssh-keygen")
class Record(ProgramTest):
    def setUp(self):
        super().setUp()
        self.make_keys("signers")
        self.ingest(TROUBLED, "-o", "run", status=1)

    def make_keys(self, signers, options=""):
        lines = []
        for role in ROLES:
            key = self.folder / key_of(role)
            if not key.exists():
                subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", f"key of {role}", "-f", key], check=True)
            lines.append(f'{key.name} namespaces="{NAMESPACE}"{options} {key.with_suffix(".pub").read_text()}')
        (self.folder / signers).write_text("".join(lines))

    def sign(self, role, run="run", key=None, status=0, **more):
        arguments = {"name": "R. Calder", "disposition": "accept", "reason": "thin sector accepted, watch it", **more}
        options = [part for name, value in arguments.items() for part in (f"--{name}", value)]
        return self.run_program("sign", run, "--as", role, "--key", key_of(key or role), "--signers", "signers", *options,
                                status=status)

    def sign_all(self, run="run"):
        for role in ROLES:
            self.sign(role, run)

    def archived(self, *runs):
        self.run_program("archive", "create", "archive")
        for run in runs:
            self.sign_all(run)
            self.run_program("archive", "add", "archive", run, "--signers", "signers")

    def state(self, folder):
        """Everything in a folder, by checksum."""
        return {str(p.relative_to(self.folder)): hashlib.sha256(p.read_bytes()).hexdigest()
                for p in sorted((self.folder / folder).rglob("*")) if p.is_file()}

    def test_signed_in_order_verified_and_archived(self):
        self.assertIn("'process engineer' has to sign before 'operator'", self.sign("operator", status=2).stderr)
        for role in ROLES[:2]:
            self.sign(role)
        self.assertIn("'quality' has not signed", self.run_program("verify", "run", "--signers", "signers", status=1).stderr)
        self.sign(ROLES[2])
        self.assertIn("time is only claimed", self.run_program("verify", "run", "--signers", "signers").stderr)
        self.assertEqual([line for line in (self.folder / "run/signatures/1-process-engineer.txt").read_text().splitlines()
                          if "disposition" in line or "reason" in line],
                         ["# disposition: accept", "# reason: thin sector accepted, watch it"])

        # A sealed run is not written over.
        before = self.state("run")
        self.assertIn("is signed", self.ingest(TROUBLED, "-o", "run", "--force", status=2).stderr)
        self.assertEqual(self.state("run"), before)

        self.run_program("archive", "create", "archive")
        self.run_program("archive", "add", "archive", "run", "--signers", "signers")
        self.assertIn("Tarn Ridge", self.run_program("archive", "list", "archive", "aluminium").stdout)
        self.assertEqual(self.run_program("archive", "list", "archive", "silver").stdout, "no runs\n")
        self.run_program("archive", "verify", "archive", "--signers", "signers")
        self.run_program("verify", "archive", "--signers", "signers")
        self.assertIn("entry 1, archived", self.run_program("archive", "show", "archive", "1", "--signers", "signers").stdout)
        self.run_program("archive", "export", "archive", "1", "copy")
        self.run_program("verify", "copy", "--signers", "signers")
        self.assertEqual([h for h in self.state("copy").values()], [h for h in before.values()])

        victim = next((self.folder / "archive").rglob("report.json"))
        victim.chmod(0o644)
        changed = victim.read_bytes().replace(b"out_of_limits", b"within_limits", 1)
        self.assertNotEqual(changed, victim.read_bytes())
        victim.write_bytes(changed)
        self.assertIn("report.json", self.run_program("verify", "archive", "--signers", "signers", status=1).stderr)

    def test_a_stranger_needs_only_the_documented_commands_also_for_an_expired_key(self):
        self.sign_all()
        shell = re.search(r"<!-- a test runs this -->\n```sh\n(.*?)```", (SOURCE / "lib/record/README.md").read_text(), re.S)
        script = shell.group(1)

        def stranger(run, signers):
            return subprocess.run(["bash", "-e", "-c", script], cwd=self.folder / run, capture_output=True, text=True,
                                  env={**os.environ, "SIGNERS": str(self.folder / signers)})

        done = stranger("run", "signers")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual(done.stdout.count("Good "), 3)
        # The keys end tomorrow, and the stranger comes years later.
        tomorrow = subprocess.run(["date", "-u", "-d", "tomorrow", "+%Y%m%d"], capture_output=True, text=True).stdout.strip()
        self.make_keys("expired", f',valid-before="{tomorrow}Z"')
        self.run_program("verify", "run", "--signers", "expired")
        if shutil.which("faketime"):
            script = script.replace("ssh-keygen", "faketime '+20 years' ssh-keygen")
        self.assertEqual(stranger("run", "expired").returncode, 0)
        # Keys that had ended before they signed do not count, here as there.
        self.make_keys("ended", ',valid-before="20200101Z"')
        self.assertIn("valid until", self.run_program("verify", "run", "--signers", "ended", status=1).stderr)
        self.assertNotEqual(stranger("run", "ended").returncode, 0)
        (self.folder / "run/data/added.txt").write_text("x")
        self.assertNotEqual(stranger("run", "signers").returncode, 0)

    def test_wrong_roles_keys_and_files_are_refused_with_nothing_changed(self):
        before = self.state("run")
        for wanted, arguments in (
                ("does not ask for a signature of 'director'", dict(role="director", key="operator")),
                ("may not sign as 'process-engineer'", dict(role="process engineer", key="operator")),
                ("'maybe' is no disposition", dict(role="process engineer", disposition="maybe")),
                ("reason", dict(role="process engineer", disposition="reject", reason="")),
                ("ssh-keygen", dict(role="process engineer", key="nobody"))):
            said = self.sign(status=2, **arguments).stderr
            self.assertIn(wanted, said)
            self.assertEqual(self.state("run"), before)
        for command in (["sign", "nowhere", "--as", "quality", "--key", "quality", "--name", "x", "--disposition", "accept"],
                        ["verify", "nowhere"], ["archive", "list", "nowhere"], ["archive", "add", "nowhere", "run"],
                        ["verify", "run", "--signers", "nowhere"], ["trend", "nowhere", "base_pressure"],
                        ["stamp", "request", "nowhere", "-o", "q.tsq"], ["revise", "nowhere", "-o", "r2", "--add", "signers"]):
            said = self.run_program(*command, status=2).stderr
            self.assertIn("nowhere", said, command)
            self.assertIn("error:", said, command)
        # One key cannot fill two roles, whoever the allowed-signers file gives it to.
        both = (self.folder / "signers").read_text().replace("process-engineer namespaces", "process-engineer,operator namespaces")
        (self.folder / "signers").write_text(both)
        self.sign("process engineer")
        self.assertIn("one key cannot fill two roles", self.sign("operator", key="process engineer", status=2).stderr)
        self.assertIn("has signed this run already", self.sign("process engineer", status=2).stderr)

    def test_any_order_when_the_recipe_says_so(self):
        recipe = self.folder / RECIPE
        recipe.write_text(recipe.read_text().replace("sign = [", 'sign_order = "any"\nsign = [', 1))
        self.ingest(TROUBLED, "-o", "other", status=1)
        self.assertIn("Signing-Order: any\n", (self.folder / "other/bag-info.txt").read_text())
        for role in ("quality", "process engineer", "operator"):
            self.sign(role, "other")
        self.run_program("verify", "other", "--signers", "signers")

    def test_a_stamp_of_an_authority_of_the_test_s_own(self):
        (self.folder / "ca.cnf").write_text(
            "[req]\ndistinguished_name=dn\nx509_extensions=ca\nprompt=no\n[dn]\nCN=Test root\n[ca]\nbasicConstraints=critical,CA:true\n"
            "[tsa]\nextendedKeyUsage=critical,timeStamping\n[default_tsa]\nserial=serial\ncrypto_device=builtin\n"
            "signer_cert=tsa.pem\nsigner_key=tsa.key\nsigner_digest=sha256\ndefault_policy=1.2.3.4\ndigests=sha256\n"
            "ess_cert_id_alg=sha256\n")

        def openssl(*arguments, status=0):
            done = subprocess.run(["openssl", *arguments], cwd=self.folder, capture_output=True, text=True)
            self.assertEqual(done.returncode, status, done.stderr)
            return done

        openssl("req", "-x509", "-newkey", "ed25519", "-nodes", "-keyout", "ca.key", "-out", "ca.pem", "-days", "30", "-config", "ca.cnf")
        openssl("req", "-newkey", "rsa:2048", "-nodes", "-keyout", "tsa.key", "-out", "tsa.csr", "-subj", "/CN=Stamps", "-config", "ca.cnf")
        openssl("x509", "-req", "-in", "tsa.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-days", "20", "-extfile",
                "ca.cnf", "-extensions", "tsa", "-out", "tsa.pem")
        (self.folder / "serial").write_text("01")

        def answer(request):
            openssl("ts", "-reply", "-config", "ca.cnf", "-section", "default_tsa", "-queryfile", request, "-out", "a.tsr")

        self.assertIn("nobody has signed", self.run_program("stamp", "request", "run", "-o", "q.tsq", status=2).stderr)
        self.sign_all()
        self.assertIn("curl", self.run_program("stamp", "request", "run", "-o", "q.tsq").stdout)
        self.run_program("stamp", "request", "run", "-o", "q.tsq", status=2)  # does not write over it
        answer("q.tsq")
        # It is of the newest signature, and fits no other.
        self.assertIn("does not verify", self.run_program("stamp", "add", "run", "a.tsr", "--number", "1", "--stamp-ca", "ca.pem",
                                                          status=2).stderr)
        self.run_program("stamp", "add", "run", "a.tsr", "--stamp-ca", "ca.pem")
        shown = self.run_program("verify", "run", "--signers", "signers", "--stamp-ca", "ca.pem")
        self.assertEqual(shown.stdout.count("(time stamp)"), 1)
        self.assertEqual(shown.stdout.count("(time as claimed)"), 2)
        openssl("ts", "-verify", "-in", "run/signatures/3-quality.txt.sig.tsr", "-data", "run/signatures/3-quality.txt.sig",
                "-CAfile", "ca.pem")

        self.run_program("archive", "create", "archive")
        self.assertIn("the archive is empty", self.run_program("stamp", "request", "archive", "-o", "e.tsq", status=2).stderr)
        self.run_program("archive", "add", "archive", "run", "--signers", "signers")
        self.run_program("stamp", "request", "archive", "-o", "e.tsq")
        self.assertIn("does not verify", self.run_program("stamp", "add", "archive", "a.tsr", "--stamp-ca", "ca.pem", status=2).stderr)
        answer("e.tsq")
        self.run_program("stamp", "add", "archive", "a.tsr", "--stamp-ca", "ca.pem")
        self.run_program("archive", "verify", "archive", "--signers", "signers", "--stamp-ca", "ca.pem")

    def test_measurements_make_a_new_revision_and_the_sealed_run_stays(self):
        self.archived("run")
        before = self.state("run")
        manifest = hashlib.sha256((self.folder / "run/tagmanifest-sha256.txt").read_bytes()).hexdigest()
        self.assertIn("nothing to add", self.run_program("revise", "run", "-o", "run-2", status=2).stderr)
        done = self.run_program("revise", "run", "-o", "run-2", "--measured", "recipes/tarn-ridge/measured.toml", "--add", "signers")
        self.assertIn(manifest, done.stdout)
        self.assertEqual(self.state("run"), before)
        self.run_program("revise", "run", "-o", "run-2", "--add", "signers", status=2)  # there is one
        info = (self.folder / "run-2/bag-info.txt").read_text()
        self.assertIn(f"Revision: 2\nReplaces: {manifest}\n", info)
        self.assertIn("Figure: reflectance_550nm 0.913 1 0.004 2031-03-12T12:00:00Z film of Tarn Ridge primary", info)
        self.assertEqual(info.count("Figure: base_pressure"), 1)
        self.assertTrue((self.folder / "run-2/data/measured/measured.toml").exists())

        # A second set of measurements does not take the place of the first.
        later = self.folder / "measured.toml"
        text = (SOURCE / "recipes/tarn-ridge/measured.toml").read_text()
        later.write_text(text.replace("2031-03-12", "2031-09-12").replace("91.3 %", "90.6 %"))
        self.sign_all("run-2")
        self.run_program("revise", "run-2", "-o", "run-3", "--measured", "measured.toml")
        later.write_text(text.replace("2031-03-12", "2032-03-12").replace("91.3 %", "90.1 %"))
        self.sign_all("run-3")
        self.run_program("revise", "run-3", "-o", "run-4", "--measured", "measured.toml")
        names = sorted(p.name for p in (self.folder / "run-4/data/measured").iterdir())
        self.assertEqual(names, ["measured-2.toml", "measured-3.toml", "measured.toml", "signers"])
        self.sign_all("run-4")
        for run in ("run-2", "run-3", "run-4"):
            self.run_program("archive", "add", "archive", run, "--signers", "signers")
        self.run_program("archive", "verify", "archive", "--signers", "signers")
        listed = self.run_program("archive", "list", "archive").stdout
        self.assertEqual(listed.count("replaced by entry"), 3)

        # The film ages; the newest revision speaks, once.
        aged = json.loads(self.run_program("trend", "archive", "reflectance_550nm", "--drop", "3 %", "--format", "json", status=None).stdout)
        self.assertEqual([p["value"] for p in aged["points"]], [0.913, 0.906, 0.901])
        self.assertEqual({p["entry"] for p in aged["points"]}, {4})
        self.assertTrue(aged["subject"].startswith("film of "))
        self.assertIn("base_pressure", self.run_program("trend", "archive").stdout)
        self.assertIn("there is 1", self.run_program("trend", "archive", "base_pressure", status=2).stderr)

    def test_measurements_that_cannot_be_are_refused_before_anything_is_written(self):
        (self.folder / "m.toml").write_text('format = "vacuary-measured 1"\ndate = "2031-03-12"\nby = "x"\ninstrument = "x"\n'
                                            '[[reflectance]]\nwavelength = "550 nm"\nvalue = "913 %"\nuncertainty = "0.2 %"\n')
        self.assertIn("m.toml:7:", self.run_program("revise", "run", "-o", "run-2", "--measured", "m.toml", status=2).stderr)
        self.assertFalse((self.folder / "run-2").exists())

    def test_a_rolled_back_ledger_is_seen_against_a_saved_head(self):
        self.ingest(TROUBLED, "-o", "second", status=1)
        self.archived("run")
        shutil.copytree(self.folder / "archive", self.folder / "earlier")
        self.sign_all("second")
        self.run_program("archive", "add", "archive", "second", "--signers", "signers")
        shutil.copy(self.folder / "archive/head.txt", self.folder / "saved")
        self.run_program("archive", "verify", "archive", "--signers", "signers", "--saved-head", "saved")
        shutil.rmtree(self.folder / "archive")
        shutil.move(self.folder / "earlier", self.folder / "archive")
        self.run_program("archive", "verify", "archive", "--signers", "signers")  # nothing inside it shows
        said = self.run_program("archive", "verify", "archive", "--signers", "signers", "--saved-head", "saved", status=1).stderr
        self.assertIn("ledger-rolled-back", said)

    def test_an_empty_archive(self):
        self.run_program("archive", "create", "archive")
        self.assertEqual(self.run_program("archive", "list", "archive").stdout, "no runs\n")
        self.assertEqual(self.run_program("archive", "verify", "archive").stdout, "0 of 0 runs verified, 0 bytes of payload read\n")
        self.assertIn("no figures", self.run_program("trend", "archive").stdout)
        self.assertIn("there is no ledger entry 1", self.run_program("archive", "show", "archive", "1", status=2).stderr)
        self.run_program("archive", "create", "archive", status=2)
        self.assertIn("has not signed", self.run_program("archive", "add", "archive", "run", "--signers", "signers", status=2).stderr)

    def test_pages_and_trends_of_some_runs(self):
        runs = []
        for month in range(1, 6):
            self.run_program("rehearse", RECIPE, "-o", f"{month}.csv", "--seed", month, "--start", f"2031-0{month}-10T06:00:00Z",
                             "--channels", CHANNELS)
            self.ingest(f"{month}.csv", "-o", f"run-{month}", status=None)
            runs.append(f"run-{month}")
        self.archived(*runs)
        page = self.run_program("archive", "list", "archive", "--limit", "2").stdout.splitlines()
        self.assertEqual(len(page), 4)
        self.assertIn("3 more", page[3])
        self.assertEqual(len(self.run_program("archive", "list", "archive", "--all").stdout.splitlines()), 6)
        self.assertEqual(len(self.run_program("archive", "list", "archive", "--from", "2031-03", "--to", "2031-05").stdout.splitlines()), 3)
        text = self.run_program("trend", "archive", "base_pressure", status=None).stdout
        self.assertIn("base_pressure, 5 values from 2031-01-10 to 2031-05-10", text)
        self.assertIn("limits are rough", text)
        rows = list(csv.reader(io.StringIO(self.run_program("trend", "archive", "film_thickness", "--format", "csv", status=None).stdout)))
        self.assertEqual(len(rows), 6)
        self.assertEqual({len(row) for row in rows}, {9})
        self.assertTrue(all(80 < float(row[3]) < 100 for row in rows[1:]))
        page = self.run_program("trend", "archive", "base_pressure", "--format", "html", status=None).stdout
        html.parser.HTMLParser().feed(page)
        self.assertNotRegex(page, r"(src|href)=")
        self.assertEqual(page.count("<circle"), 5)
        said = self.run_program("trend", "archive", "base_pressure", "--bound", "1 Pa", status=2).stderr
        self.assertIn("state it in mbar", said)
        self.assertIn("did you mean base_pressure?", self.run_program("trend", "archive", "base_presure", status=2).stderr)
        used = json.loads(self.run_program("trend", "archive", "target_energy_used", "--format", "json", status=None).stdout)
        self.assertEqual(used["subject"], "target TR-AL-07")
        self.assertTrue(all(425 < p["value"] < 427 for p in used["points"]))


if __name__ == "__main__":
    unittest.main()
