// Polars' part of the benchmark: per-step minimum, maximum and mean of all columns, streaming scan.
//   POLARS_MAX_THREADS=N node polars.mjs FOLDER_OF_NODE_MODULES LOG
import { createRequire } from 'node:module';
const [modules, log] = process.argv.slice(2);
const pl = createRequire(modules + '/')('nodejs-polars');

const start = performance.now();
const frame = pl.scanCSV(log, { tryParseDates: true });
const columns = frame.columns.filter((c) => c !== 'time' && c !== 'run.step');
// The exact query:
const asked = ['time', ...columns].flatMap((c) => [pl.col(c).min().alias(`${c} min`), pl.col(c).max().alias(`${c} max`)])
  .concat(columns.map((c) => pl.col(c).mean().alias(`${c} mean`)));
const result = await frame.groupBy('run.step').agg(...asked).collect();
const seconds = (performance.now() - start) / 1000;
console.log(`seconds ${seconds.toFixed(3)} columns ${columns.length} steps ${result.height}`);
