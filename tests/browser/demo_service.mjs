// The real service with its virtual carts, as `tagline demo` runs them, for tests of whole stories.
// TAGLINE_BIN names the binary, build/tagline otherwise; without one the tests fail, so that they are
// never skipped unnoticed.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { until } from './browser.mjs';

const root = fileURLToPath(new URL('../../', import.meta.url));
export const binary = path.resolve(root, process.env.TAGLINE_BIN ?? 'build/tagline');

export async function freePort() {
  const probe = createServer();
  await new Promise((done) => probe.listen(0, '127.0.0.1', done));
  const { port } = probe.address();
  await new Promise((done) => probe.close(done));
  return port;
}

export class DemoService {
  said = '';

  async start(pace) {
    assert.ok(existsSync(binary), `no ${binary}: build it, or set TAGLINE_BIN`);
    const port = await freePort();
    this.url = `http://127.0.0.1:${port}/`;
    this.data = mkdtempSync(path.join(tmpdir(), 'tagline-browser-'));
    const options = ['demo', '--port', String(port), '--pace', String(pace), '--no-jobs', '--data', this.data];
    options.push('--web', path.join(root, 'web', 'dist'));
    this.process = spawn(binary, options, { cwd: root });
    this.process.stdout.on('data', (text) => (this.said += text));
    this.process.stderr.on('data', (text) => (this.said += text));
    try {
      await until(() => this.allGreeted(), 'the service is up and every cart has greeted', 30_000);
    } catch (error) {
      throw new Error(`${error.message}\nThe service said:\n${this.said.slice(-4_000)}`);
    }
    return this;
  }

  async allGreeted() {
    assert.equal(this.process.exitCode, null, `the service has ended: ${this.said.slice(-2_000)}`);
    const health = await fetch(new URL('/api/health', this.url)).then((r) => r.json(), () => null);
    return health?.status === 'ok' && health.carts_connected === health.carts && health;
  }

  async get(what) {
    const answer = await fetch(new URL(what, this.url));
    assert.equal(answer.status, 200, what);
    return answer.json();
  }

  async post(what, body) {
    const answer = await fetch(new URL(what, this.url), {
      method: 'POST',
      ...(body ? { headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) } : {}),
    });
    assert.ok(answer.ok, `${what}: ${answer.status}`);
    return answer.json();
  }

  async stop() {
    const { process: running } = this;
    if (running && running.exitCode === null) {
      const ended = new Promise((done) => running.once('exit', done));
      running.kill('SIGTERM');
      const slow = setTimeout(() => running.kill('SIGKILL'), 10_000);
      await ended;
      clearTimeout(slow);
    }
    if (this.data) rmSync(this.data, { recursive: true, force: true });
  }
}
