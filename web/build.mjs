// Bundles the pages into dist/: for each an HTML file, one script and one style. Parts that pages
// share are in each: a browser opens six links to a service, and a dozen small files one after the
// other took a phone on a slow link longer than what they saved (tests/bench/pages). Names carry a
// hash, and each file is there gzipped too, so that the service can send it as it is. The service
// gives NAME.html for /NAME and all paths below.
import { build } from 'esbuild';
import { createHash } from 'node:crypto';
import { mkdir, readFile, readdir, rm, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';

/** File name of each page, its title until it has drawn itself, where it starts, and what it will ask
 *  the service for first: the browser does so while it still fetches the script. */
const pages = [
  { name: 'index', title: 'Tagline', entry: 'src/entries/board.tsx', first: '/api/floor' },
  { name: 'here', title: 'Tagline, my station', entry: 'src/entries/here.tsx', first: '/api/floor' },
  { name: 'codes', title: 'Tagline, codes for the stations', entry: 'src/entries/codes.tsx' },
  { name: 'wall', title: 'Tagline, wall', entry: 'src/entries/wall.tsx', first: '/api/floor' },
  { name: 'figures', title: 'Figures, Tagline', entry: 'src/entries/figures.tsx' },
  { name: 'past', title: 'Past, Tagline', entry: 'src/entries/past.tsx' },
  { name: 'sign-in', title: 'Sign in, Tagline', entry: 'src/entries/sign_in.tsx' },
  { name: 'setup', title: 'Set up, Tagline', entry: 'src/entries/setup.tsx' },
  { name: 'floor', title: 'Floor, Tagline', entry: 'src/entries/floor.tsx' },
  { name: 'carts', title: 'Carts, Tagline', entry: 'src/entries/carts.tsx' },
  { name: 'people', title: 'People, Tagline', entry: 'src/entries/people.tsx' },
];

const here = path.dirname(fileURLToPath(import.meta.url));
const source = path.join(here, 'src');
const dist = path.join(here, 'dist');

await rm(dist, { recursive: true, force: true });
await mkdir(dist);
const result = await build({
  absWorkingDir: here,
  entryPoints: pages.map((page) => page.entry),
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
const { outputs } = result.metafile;

const icon = await readFile(path.join(source, 'icon.svg'));
const iconName = `icon-${createHash('sha256').update(icon).digest('hex').slice(0, 8)}.svg`;
await writeFile(path.join(dist, iconName), icon);

const template = await readFile(path.join(source, 'page.html'), 'utf8');
for (const { name, title, entry, first } of pages) {
  const [file, output] = Object.entries(outputs).find(([, o]) => o.entryPoint === entry) ?? [];
  if (!output?.cssBundle) throw new Error(`${entry} gave no script or no style`);
  // crossorigin: as fetch() asks for it, so that it takes this answer.
  const preload = first ? `<link rel="preload" href="${first}" as="fetch" crossorigin="anonymous">` : '';
  const html = template
    .replace('%TITLE%', title)
    .replace('%ICON%', iconName)
    .replace('%CSS%', path.basename(output.cssBundle))
    .replace('%PRELOAD%\n', preload && `${preload}\n`)
    .replace('%JS%', path.basename(file));
  await writeFile(path.join(dist, `${name}.html`), html);
}

let total = 0;
const written = await readdir(dist);
for (const file of written) {
  const packed = gzipSync(await readFile(path.join(dist, file)), { level: 9 });
  await writeFile(path.join(dist, `${file}.gz`), packed);
  total += packed.length;
}
console.log(`web/dist: ${written.length} files, ${(total / 1024).toFixed(1)} KiB compressed`);
