// validate.mjs NODE_MODULES DRAFT SCHEMA FILE...: holds JSON files against a JSON Schema with ajv.
// DRAFT is 2020 or 4; SCHEMA is a path, absolute or inside NODE_MODULES.
import { readFileSync, existsSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";

const [modules, draft, schemaPath, ...files] = process.argv.slice(2);
const require = createRequire(join(modules, "..", "package.json"));
const Ajv = require(draft === "2020" ? "ajv/dist/2020.js" : "ajv").default;
const path = existsSync(schemaPath) ? schemaPath : join(modules, schemaPath);
const schema = JSON.parse(readFileSync(path, "utf8"));
if (draft === "4") {
  // What this validator's draft 7 calls otherwise; a draft-4 schema that needs more is refused by name.
  if (JSON.stringify(schema).match(/"exclusiveM(in|ax)imum":(true|false)/)) throw new Error("boolean exclusive bounds");
  delete schema.$schema;
  delete schema.id;
}
// Formats are annotations here: the patterns in our schemas say what is held. The published SARIF schema
// has a pattern that is none under Unicode rules.
const validate = new Ajv({ allErrors: true, strict: false, validateFormats: false, unicodeRegExp: false }).compile(schema);

let failures = 0;
for (const file of files) {
  if (validate(JSON.parse(readFileSync(file, "utf8")))) continue;
  failures += 1;
  console.error(file);
  for (const e of validate.errors.slice(0, 20)) console.error(`  ${e.instancePath || "/"} ${e.message} ${JSON.stringify(e.params)}`);
}
process.exit(failures === 0 && files.length > 0 ? 0 : 1);
