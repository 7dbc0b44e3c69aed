// DuckDB's part of the benchmark: per-step minimum, maximum and mean of all columns.
//   node duckdb.mjs FOLDER_OF_NODE_MODULES LOG THREADS
import { createRequire } from 'node:module';
const [modules, log, threads] = process.argv.slice(2);
const require = createRequire(modules + '/');
const { DuckDBInstance } = require('@duckdb/node-api');

const instance = await DuckDBInstance.create(':memory:', { threads });
const db = await instance.connect();
const source = `read_csv('${log}', header = true, delim = ',')`;
const described = await db.runAndReadAll(`DESCRIBE SELECT * FROM ${source}`);
const columns = described.getRows().filter((r) => r[1] === 'DOUBLE').map((r) => r[0]);
const asked = columns.map((c) => `min("${c}"), max("${c}"), avg("${c}")`).join(', ');
// The exact query:
const query = `SELECT "run.step", count(*), min(time), max(time), ${asked} FROM ${source} GROUP BY "run.step" ORDER BY 1`;
const start = performance.now();
const result = await db.runAndReadAll(query);
const seconds = (performance.now() - start) / 1000;
console.log(`seconds ${seconds.toFixed(3)} columns ${columns.length} steps ${result.getRows().length}`);
