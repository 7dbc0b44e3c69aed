// The JSON Schemas and the loader must agree: two independent tools (an editor's TOML tool and a full
// validator) accept every good plan file and reject every bad one. Bad files that a schema cannot
// reject are listed with the reason in files/schema-cannot.txt, and must then be accepted by both, so
// that the list cannot grow stale. That the loader rejects all of bad/ is complaints_test.cpp.
//
//   node schemas.mjs SOURCE_FOLDER FOLDER_WITH_NODE_MODULES
import { spawnSync } from "node:child_process";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { basename, join, resolve } from "node:path";

const [source, npm] = process.argv.slice(2).map((path) => resolve(path));
if (!existsSync(join(npm, "node_modules", "ajv"))) {
  console.log(`skipped: no npm packages in ${npm} (run npm ci there)`);
  process.exit(77);
}
const require = createRequire(join(npm, "package.json"));
const { default: Ajv } = require("ajv/dist/2020");
const { parse } = require("smol-toml");

const files = join(source, "tests", "plan", "files");
const samples = join(source, "recipes", "tarn-ridge");
const kinds = {
  recipe: ["aluminium-90nm.toml"],
  chamber: ["chamber.toml"],
  optic: ["primary.toml"],
  channels: ["channels.toml"],
  measured: ["measured.toml"],
  strip: ["strip.toml"],
};
// Name, or name and the one tool it is about, to the reason.
const cannot = new Map();
for (const line of readFileSync(join(files, "schema-cannot.txt"), "utf8").split("\n")) {
  const colon = line.indexOf(":");
  if (!line.startsWith("#") && colon > 0) cannot.set(line.slice(0, colon), line.slice(colon + 1).trim());
}

const inFolder = (folder, kind) =>
  readdirSync(join(files, folder))
    .filter((name) => name.startsWith(`${kind}-`) && name.endsWith(".toml"))
    .map((name) => join(files, folder, name));

let failures = 0;
const expect = (holds, text) => {
  if (holds) return;
  failures += 1;
  console.error(text);
};

// Paths that the validator rejects: not TOML, or against the schema.
function rejectedByValidator(schemaFile, paths) {
  const validate = new Ajv({ strict: true, allowUnionTypes: true, strictRequired: false, strictTypes: false }).compile(
    JSON.parse(readFileSync(schemaFile, "utf8")),
  );
  return new Set(
    paths.filter((path) => {
      try {
        return !validate(parse(readFileSync(path, "utf8").replace(/^\uFEFF/, "")));
      } catch {
        return true;
      }
    }),
  );
}

function rejectedByEditorTool(schemaFile, paths) {
  const tool = join(npm, "node_modules", ".bin", "taplo");
  const run = spawnSync(tool, ["lint", "--colors", "never", "--schema", `file://${schemaFile}`, ...paths], {
    encoding: "utf8",
    cwd: "/",
  });
  if (run.error) throw run.error;
  const said = `${run.stdout}${run.stderr}`;
  const rejected = new Set(paths.filter((path) => said.includes(`path="${path}"`)));
  expect((run.status !== 0) === rejected.size > 0, `the editor's tool ended with ${run.status}:\n${said}`);
  return rejected;
}

for (const [kind, names] of Object.entries(kinds)) {
  const schema = join(source, "schemas", `${kind}.schema.json`);
  const good = [...inFolder("good", kind), ...names.map((name) => join(samples, name))];
  const bad = inFolder("bad", kind);
  const tools = { validator: rejectedByValidator, "editor's tool": rejectedByEditorTool };
  for (const [tool, rejectedBy] of Object.entries(tools)) {
    const rejected = rejectedBy(schema, [...good, ...bad]);
    for (const path of good) expect(!rejected.has(path), `${basename(path)}: good, but the ${tool} rejects it`);
    for (const path of bad) {
      const name = basename(path, ".toml");
      const listed = cannot.has(name) || cannot.has(`${name} (${tool})`);
      expect(
        rejected.has(path) !== listed,
        listed
          ? `${basename(path)}: listed in schema-cannot.txt, but the ${tool} does reject it`
          : `${basename(path)}: bad, but the ${tool} accepts it`,
      );
    }
  }
  console.log(`${kind}: ${good.length} good and ${bad.length} bad files`);
}
for (const entry of cannot.keys()) {
  const name = entry.replace(/ \(.*/, "");
  expect(existsSync(join(files, "bad", `${name}.toml`)), `schema-cannot.txt names ${name}, which is not in bad/`);
}
if (failures > 0) {
  console.error(`${failures} disagreements`);
  process.exit(1);
}
