// Bundles the page into dist/: index.html, hashed script, style and icon, each also gzipped so that
// the service can send it as it is.
import { build } from 'esbuild';
import { createHash } from 'node:crypto';
import { mkdir, readFile, readdir, rm, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';

const here = path.dirname(fileURLToPath(import.meta.url));
const source = path.join(here, 'src');
const dist = path.join(here, 'dist');

await rm(dist, { recursive: true, force: true });
await mkdir(dist);
const result = await build({
  absWorkingDir: here,
  entryPoints: { board: 'src/main.tsx' },
  outdir: dist,
  bundle: true,
  minify: true,
  format: 'esm',
  target: ['es2022'],
  jsx: 'automatic',
  jsxImportSource: 'preact',
  entryNames: '[name]-[hash]',
  metafile: true,
  legalComments: 'none',
  logLevel: 'warning',
});

const written = Object.keys(result.metafile.outputs).map((file) => path.basename(file));
const named = (ending) => {
  const name = written.find((file) => file.endsWith(ending));
  if (!name) throw new Error(`the bundler wrote no ${ending} file`);
  return name;
};

const icon = await readFile(path.join(source, 'icon.svg'));
const iconName = `icon-${createHash('sha256').update(icon).digest('hex').slice(0, 8)}.svg`;
await writeFile(path.join(dist, iconName), icon);

const html = (await readFile(path.join(source, 'index.html'), 'utf8'))
  .replace('%ICON%', iconName)
  .replace('%CSS%', named('.css'))
  .replace('%JS%', named('.js'));
await writeFile(path.join(dist, 'index.html'), html);

let total = 0;
for (const file of await readdir(dist)) {
  const packed = gzipSync(await readFile(path.join(dist, file)), { level: 9 });
  await writeFile(path.join(dist, `${file}.gz`), packed);
  total += packed.length;
}
console.log(`web/dist: ${written.length + 2} files, ${(total / 1024).toFixed(1)} KiB compressed`);
