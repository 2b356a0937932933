// A stand-in for the service, to test the page alone: it serves web/dist and speaks
// server/net/API.md, but a test decides what the floor does. It also keeps what it was asked.
import { createReadStream, existsSync } from 'node:fs';
import { createServer } from 'node:http';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { noFigures } from './fake_figures.mjs';
import { cartAt, floor as smallFloor, job as newJob } from './fake_floor.mjs';
import { WebSocketServer } from './modules.mjs';

const dist = fileURLToPath(new URL('../../web/dist/', import.meta.url));
const kinds = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml' };
/** As strict as the page must bear; files go out compressed, as from the service. */
const policy =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
  "base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

export class FakeService {
  requests = [];
  /** What clients asked for when they connected to /live. */
  linkQueries = [];
  /** A test may answer a request itself: (method, path, body, headers, url) -> {status, body} or undefined. */
  answer = () => undefined;
  /** Does what it is asked, but no answer gets through. */
  losesAnswers = false;
  refuseLinks = false;
  /** A FakeDoor; without one everybody may do everything, as before there was one. */
  door = null;
  /** Answers by idempotency key. */
  keys = new Map();
  /** Says nothing any more over live links, as a half-open connection would. */
  silent = false;
  run = 'run1';
  rev = 0;
  allStopped = false;
  alarms = [];
  downtimes = [];
  zones = [];
  history = [];
  /** Of whatever day. */
  figures = noFigures();

  constructor(floor = smallFloor) {
    this.floor = floor;
    this.carts = new Map();
    this.jobs = new Map();
    this.stations = new Map(floor.stations.filter((s) => s.capacity).map((s) => [s.id, s]));
    for (const [i, point, segment] of [[1, 'P15', 'S16'], [2, 'P9', 'S8']]) {
      this.carts.set(`cart-${i}`, cartAt(`cart-${i}`, point, segment));
    }
  }

  async start(port = 0) {
    this.http = createServer((request, response) => void this.serve(request, response));
    this.sockets = new WebSocketServer({
      noServer: true,
      handleProtocols: (offered) => (offered.has('tagline.live.1') ? 'tagline.live.1' : false),
    });
    this.http.on('upgrade', (request, socket, head) => {
      const url = new URL(request.url, 'http://fake');
      const kept = this.door && !this.door.visitor(request);
      if (url.pathname !== '/live' || this.refuseLinks || kept) return socket.destroy();
      this.sockets.handleUpgrade(request, socket, head, (link) => this.greet(link, url));
    });
    await new Promise((done) => this.http.listen(port, '127.0.0.1', done));
    this.port = this.http.address().port;
    this.url = `http://127.0.0.1:${this.port}/`;
    this.timer = setInterval(() => this.tell({ type: 'time', time: now() }), 5_000);
    return this;
  }

  async stop() {
    clearInterval(this.timer);
    this.dropLinks();
    this.http.closeAllConnections?.();
    await new Promise((done) => this.http.close(done));
  }

  /** Applies and sends a change; `alarms`, `downtimes` and `zones` are whole lists. */
  change({ carts = [], jobs = [], stations = [], alarms, all_stopped, downtimes, zones }) {
    for (const cart of carts) this.carts.set(cart.id, cart);
    for (const job of jobs) this.jobs.set(job.id, job);
    for (const station of stations) this.stations.set(station.id, station);
    if (alarms) this.alarms = alarms;
    if (all_stopped !== undefined) this.allStopped = all_stopped;
    if (downtimes) this.downtimes = downtimes;
    if (zones) this.zones = zones;
    this.rev += 1;
    const message = { type: 'change', rev: this.rev, time: now() };
    if (carts.length) message.carts = carts;
    if (jobs.length) message.jobs = jobs;
    if (stations.length) message.stations = stations;
    if (alarms) message.alarms = alarms;
    if (all_stopped !== undefined) message.all_stopped = all_stopped;
    if (downtimes) message.downtimes = downtimes;
    if (zones) message.zones = zones;
    this.history.push(message);
    this.tell(message);
  }

  /** One cart, changed in part. */
  changeCart(id, more) {
    this.change({ carts: [{ ...this.carts.get(id), ...more }] });
  }

  dropLinks() {
    for (const link of this.sockets.clients) link.terminate();
  }

  tell(message) {
    if (this.silent) return;
    for (const link of this.sockets.clients) link.send(JSON.stringify(message));
  }

  greet(link, url) {
    this.linkQueries.push(url.search);
    const since = Number(url.searchParams.get('since'));
    const missed = this.history.filter((m) => m.rev > since);
    const known = url.searchParams.get('run') === this.run && missed.length === this.rev - since;
    if (known) {
      link.send(JSON.stringify({ type: 'resumed', run: this.run, rev: this.rev, time: now() }));
      for (const message of missed) link.send(JSON.stringify(message));
      return;
    }
    link.send(
      JSON.stringify({
        type: 'snapshot', run: this.run, rev: this.rev, time: now(), pace: this.floor.pace,
        all_stopped: this.allStopped, carts: [...this.carts.values()], jobs: [...this.jobs.values()],
        stations: [...this.stations.values()], alarms: this.alarms, downtimes: this.downtimes,
        zones: this.zones,
      }),
    );
  }

  async serve(request, response) {
    const url = new URL(request.url, `http://${request.headers.host}`);
    if (!url.pathname.startsWith('/api/')) return this.file(url.pathname, response);
    let text = '';
    for await (const part of request) text += part;
    const body = text ? JSON.parse(text) : undefined;
    const key = request.headers['idempotency-key'];
    const csrf = request.headers['x-tagline-csrf'];
    this.requests.push({ method: request.method, path: url.pathname, body, key, csrf });
    const atDoor = this.door?.answer(request, url, body);
    const own = atDoor ?? await this.answer(request.method, url.pathname, body, request.headers, url);
    if (own === 'hang up') return response.destroy();
    const repeated = key && this.keys.get(key);
    const { status, body: said, headers } = own ?? repeated ?? this.route(request.method, url.pathname, body);
    if (key && status === 201) this.keys.set(key, { status: 200, body: said });
    if (this.losesAnswers) return response.destroy();
    response.writeHead(status, {
      'Content-Type': status < 400 ? 'application/json' : 'application/problem+json', ...headers,
    });
    response.end(said === undefined ? '' : JSON.stringify(said));
  }

  route(method, where, body) {
    const [, , kind, id, what] = where.split('/');
    if (method === 'GET' && kind === 'floor') return { status: 200, body: this.floor };
    if (method === 'GET' && kind === 'jobs' && !id) {
      return { status: 200, body: { jobs: [...(this.past ?? []), ...this.jobs.values()] } };
    }
    if (method === 'GET' && kind === 'jobs' && this.jobs.has(Number(id))) {
      return { status: 200, body: this.jobs.get(Number(id)) };
    }
    if (method === 'GET' && kind === 'figures') return { status: 200, body: this.figures };
    if (method === 'POST' && kind === 'jobs' && !id) {
      const made = newJob(17 + this.jobs.size, body);
      this.change({ jobs: [made] });
      return { status: 201, body: made };
    }
    if (method === 'POST' && kind === 'jobs' && what === 'cancel') {
      const ended = { ...this.jobs.get(Number(id)), state: 'cancelled', ended_at: now() };
      this.change({ jobs: [ended] });
      return { status: 200, body: ended };
    }
    if (method === 'POST' && kind === 'jobs' && what === 'handled') return { status: 202, body: this.jobs.get(Number(id)) };
    if (method === 'POST' && (what === 'down' || what === 'up')) {
      return this.close(kind.slice(0, -1), decodeURIComponent(id), what, body ?? {});
    }
    if (method === 'POST' && kind === 'zones') {
      const zones = this.zones.map((z) => (z.id === id ? { ...z, stopped: what === 'stop' } : z));
      this.change({ zones });
      return { status: 200, body: zones.find((z) => z.id === id) };
    }
    if (method === 'POST' && kind === 'carts') return { status: 200, body: this.carts.get(id) };
    if (method === 'POST' && kind === 'stations' && what === 'loads') {
      const counted = { ...this.stations.get(id), ...body };
      this.change({ stations: [counted] });
      return { status: 200, body: counted };
    }
    if (method === 'POST' && (kind === 'stop' || kind === 'release')) {
      this.change({ all_stopped: kind === 'stop' });
      return { status: 200, body: { all_stopped: this.allStopped } };
    }
    return { status: 404, body: { title: 'Unknown', status: 404, detail: `No ${where} here.` } };
  }

  /** Out of service, or back. */
  close(kind, id, what, { reason = '', from, until = null }) {
    const others = this.downtimes.filter((d) => d[kind] !== id);
    if (what === 'up' && others.length === this.downtimes.length) {
      return { status: 409, body: { detail: `${id} is not out of service.` } };
    }
    const begun = !from || Date.parse(from) <= Date.now();
    const down = { [kind]: id, reason, from: from ?? now(), until, begun, clear: false };
    this.change({ downtimes: what === 'up' ? others : [...others, down] });
    return { status: 200, body: { downtimes: this.downtimes } };
  }

  file(where, response) {
    // As server/net/static_files: a file by its name, else NAME.html for /NAME and all below.
    const wanted = where === '/' ? ['index.html'] : [where.slice(1), `${where.split('/')[1]}.html`];
    const name = wanted.find((n) => !n.includes('/') && existsSync(path.join(dist, n)));
    if (!name) {
      response.writeHead(404).end();
      return;
    }
    const file = path.join(dist, name);
    response.writeHead(200, {
      'Content-Type': kinds[path.extname(name)] ?? 'application/octet-stream',
      // The page on which a floor is drawn shows pictures of the person's own.
      'Content-Security-Policy': name === 'floor.html' ? policy.replace("img-src 'self'", "img-src 'self' blob:") : policy,
      'Content-Encoding': 'gzip',
    });
    createReadStream(`${file}.gz`).pipe(response);
  }
}

export const now = () => new Date().toISOString();
