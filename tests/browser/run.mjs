// Runs every browser test, two files at a time (each starts a browser; most of it is waiting, and a
// small machine has two cores), with node's own test runner. Name files to run only those.
import { readdirSync } from 'node:fs';
import path from 'node:path';
import { run } from 'node:test';
import { spec } from 'node:test/reporters';
import { fileURLToPath } from 'node:url';

const here = path.dirname(fileURLToPath(import.meta.url));
const named = process.argv.slice(2).map((file) => path.resolve(file));
const files = named.length
  ? named
  : readdirSync(here)
      .filter((file) => file.endsWith('.test.mjs'))
      .map((file) => path.join(here, file));

run({ files, concurrency: 2 })
  .on('test:fail', () => {
    process.exitCode = 1;
  })
  .compose(new spec())
  .pipe(process.stdout);
