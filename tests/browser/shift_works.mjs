// The service as a works runs it, with its door shut: `tagline serve` on a copy of the demo works, and
// two carts in a process of their own. It can be killed and started again on the same data.
// TAGLINE_BIN as in demo_service.mjs.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { until } from './browser.mjs';
import { binary, freePort } from './demo_service.mjs';

const root = fileURLToPath(new URL('../../', import.meta.url));
const pace = 20;
/** How long a load takes to be put on at Glazing, s of the works: long enough for a person to be
 *  quicker. */
const slowLoad = 240;

export class ShiftWorks {
  said = '';

  async start() {
    this.folder = mkdtempSync(path.join(tmpdir(), 'tagline-shift-'));
    const demo = (name) => JSON.parse(readFileSync(path.join(root, 'deploy', name), 'utf8'));
    const floor = demo('demo.floor.json');
    floor.stations.find((station) => station.id === 'GLAZE').load_s = slowLoad;
    const fleet = demo('demo.fleet.json');
    fleet.carts = fleet.carts.slice(0, 2);
    this.homes = fleet.carts.map((cart) => cart.home);
    this.files = ['--floor', this.keep('floor.json', floor), '--fleet', this.keep('fleet.json', fleet)];
    this.port = await freePort();
    this.url = `http://127.0.0.1:${this.port}/`;
    await this.serve();
    this.carts = this.run(['cart', ...this.files, '--url', `ws://127.0.0.1:${this.port}/cart`, '--pace', String(pace)]);
    return this;
  }

  keep(name, what) {
    const file = path.join(this.folder, name);
    writeFileSync(file, JSON.stringify(what));
    return file;
  }

  run(options) {
    const started = spawn(binary, options, { cwd: root });
    for (const output of [started.stdout, started.stderr]) output.on('data', (text) => (this.said += text));
    return started;
  }

  /** Comes back once it answers. */
  async serve() {
    const options = ['--data', path.join(this.folder, 'data'), '--port', String(this.port), '--pace', String(pace)];
    this.service = this.run(['serve', ...this.files, ...options, '--web', path.join(root, 'web', 'dist')]);
    await until(async () => (await this.answers()) || this.service.exitCode !== null, 'the service is up', 30_000);
    assert.equal(this.service.exitCode, null, this.said);
  }

  answers = () => fetch(new URL('/api/me', this.url)).then(() => true, () => false);

  /** What the console shows to who started it. */
  setupCode() {
    return /setup code (\S+):/.exec(this.said)?.[1];
  }

  async kill() {
    const ended = new Promise((done) => this.service.once('exit', done));
    this.service.kill('SIGKILL');
    await ended;
  }

  async stop() {
    for (const running of [this.carts, this.service]) {
      if (!running || running.exitCode !== null || running.signalCode) continue;
      const ended = new Promise((done) => running.once('exit', done));
      running.kill('SIGKILL');
      await ended;
    }
    rmSync(this.folder, { recursive: true, force: true });
  }
}
