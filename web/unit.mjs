// Runs the unit tests with node's own test runner. Node 18 reads no TypeScript, so each test is
// bundled first; extra arguments go to node.
import { build } from 'esbuild';
import { spawnSync } from 'node:child_process';
import { readdirSync, rmSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const here = path.dirname(fileURLToPath(import.meta.url));
const out = path.join(here, 'node_modules', '.unit');
rmSync(out, { recursive: true, force: true });
const tests = readdirSync(path.join(here, 'unit')).filter((file) => file.endsWith('.test.ts'));
if (tests.length === 0) throw new Error('web/unit has no tests');
await build({
  absWorkingDir: here,
  entryPoints: tests.map((file) => `unit/${file}`),
  outdir: out,
  outExtension: { '.js': '.mjs' },
  bundle: true,
  platform: 'node',
  format: 'esm',
  target: ['node18'],
  jsx: 'automatic',
  jsxImportSource: 'preact',
  sourcemap: 'inline',
  logLevel: 'warning',
});
const files = tests.map((file) => path.join(out, file.replace(/\.ts$/, '.mjs')));
const run = spawnSync(process.execPath, [...process.argv.slice(2), '--test', ...files], {
  stdio: 'inherit',
  cwd: here,
});
process.exit(run.status ?? 1);
