// The real service on a floor of no importance, and a cart of the test's own that a person pushes: for
// a survey of tape that nobody has drawn yet. TAGLINE_BIN as in demo_service.mjs.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { until } from './browser.mjs';
import { WebSocket } from './modules.mjs';

const root = fileURLToPath(new URL('../../', import.meta.url));
const binary = path.resolve(root, process.env.TAGLINE_BIN ?? 'build/tagline');
/** The service's clock and so this cart run so many times faster. */
const pace = 5;
const key = 'key-of-the-cart-by-hand';

export class SurveyedWorks {
  said = '';
  emptyFloor = { format: 'tagline-floor/1', name: 'Pottery works, upper floor', cart: { length: 600, width: 400, speed: 400 }, points: [], segments: [], stations: [] };

  async start() {
    assert.ok(existsSync(binary), `no ${binary}: build it, or set TAGLINE_BIN`);
    this.folder = mkdtempSync(path.join(tmpdir(), 'tagline-survey-'));
    const inside = (name) => path.join(this.folder, name);
    writeFileSync(inside('floor.json'), readFileSync(path.join(root, 'protocol/samples/small.floor.json')));
    writeFileSync(inside('fleet.json'), JSON.stringify({ format: 'tagline-fleet/1', carts: [{ id: 'cart-1', key }] }));
    const options = ['serve', '--floor', inside('floor.json'), '--fleet', inside('fleet.json'), '--data', inside('data'), '--port', '0', '--port-file', inside('port')];
    options.push('--open-door', 'builder', '--pace', String(pace), '--web', path.join(root, 'web', 'dist'));
    this.process = spawn(binary, options, { cwd: root });
    this.process.stdout.on('data', (text) => (this.said += text));
    this.process.stderr.on('data', (text) => (this.said += text));
    await until(() => existsSync(inside('port')) || this.process.exitCode !== null, 'the service is up', 30_000);
    assert.equal(this.process.exitCode, null, this.said);
    this.port = Number(readFileSync(inside('port'), 'utf8'));
    this.url = `http://127.0.0.1:${this.port}/`;
    return this;
  }

  async get(what) {
    const answer = await fetch(new URL(what, this.url));
    assert.equal(answer.status, 200, what);
    return answer.json();
  }

  async stop() {
    const ended = new Promise((done) => this.process.once('exit', done));
    this.process.kill('SIGTERM');
    await ended;
    rmSync(this.folder, { recursive: true, force: true });
  }
}

/** It reads tags and says so; it is told nothing that it would have to obey. */
export class HandDrivenCart {
  /** Types of all that the service sent. */
  heard = [];
  seq = 0;

  constructor(works) {
    this.works = works;
  }

  async connect() {
    this.link = new WebSocket(`ws://127.0.0.1:${this.works.port}/cart`, 'tagline.cart.1');
    this.link.on('message', (text) => this.heard.push(JSON.parse(text).type));
    await new Promise((done, failed) => this.link.on('open', done).on('error', failed));
    this.send({ type: 'hello', cart: 'cart-1', key, boot: 'h1', loaded: false, battery: 80, stopped: false });
    await until(() => this.heard.includes('welcome'), 'welcomed');
    return this;
  }

  /** Until reads count as read when they come. */
  settle = () => new Promise((done) => setTimeout(done, 3_200));

  send(message) {
    this.link.send(JSON.stringify(message));
  }

  async passes(tag) {
    this.send({ type: 'read', seq: ++this.seq, tag });
    this.passed = performance.now();
  }

  /** So far along the tape, at 400 mm/s of the service's time, up to that tag. How far it came in
   *  truth: a machine with other work to do wakes late. */
  async drives(mm, tag) {
    const before = this.passed;
    await new Promise((done) => setTimeout(done, mm / 0.4 / pace));
    await this.passes(tag);
    return (this.passed - before) * 0.4 * pace;
  }

  leave() {
    this.link.terminate();
  }
}
