// The door of the fake service: accounts, sessions, tokens and the log, as far as the pages' tests
// need them (the contract is server/net/API.md). A test sees and changes what it holds.
import { randomBytes } from 'node:crypto';
import { now } from './fake_service.mjs';

const problem = (status, detail, more = {}) => ({ status, body: { title: 'Refused', status, detail, ...more } });
const roles = ['viewer', 'operator', 'supervisor', 'builder'];

export class FakeDoor {
  accounts = new Map();
  tokens = [];
  audit = [];
  /** By cookie: {name, csrf}. */
  sessions = new Map();
  setupCode = 'kiln-7-bowl';
  demo = null;
  tooOften = false;

  constructor(...people) {
    for (const [name, role, password] of people) {
      this.accounts.set(name, { name, role, password, created: now(), last_seen: null });
    }
  }

  /** The session of a request, with its account. */
  visitor(request) {
    if (this.demo) return { name: 'demo', role: this.demo, csrf: 'demo-csrf' };
    const cookie = /tagline=([\w-]+)/.exec(request.headers.cookie ?? '')?.[1];
    const session = this.sessions.get(cookie);
    const account = session && this.accounts.get(session.name);
    return account && { ...session, role: account.role, cookie };
  }

  me = ({ name, role, csrf }) => ({ name, role, csrf, demo: this.demo !== null });

  open(name, status) {
    const cookie = randomBytes(8).toString('hex');
    const session = { name, csrf: randomBytes(8).toString('hex') };
    this.sessions.set(cookie, session);
    return {
      status,
      body: this.me({ ...session, role: this.accounts.get(name).role }),
      headers: { 'Set-Cookie': `tagline=${cookie}; HttpOnly; SameSite=Strict; Path=/` },
    };
  }

  note(who, what, about = '') {
    this.audit.unshift({ id: this.audit.length + 1, time: now(), who, what, about, from_address: '127.0.0.1', outcome: 'done' });
  }

  /** The answer, or undefined where the request may go on to the service. */
  answer(request, url, body) {
    const path = url.pathname;
    const visitor = this.visitor(request);
    if (path === '/api/me') {
      return visitor
        ? { status: 200, body: this.me(visitor) }
        : { status: 401, body: { error: 'Sign in first.', setup: this.accounts.size === 0 } };
    }
    if (path === '/api/setup') {
      if (body.code !== this.setupCode) return problem(403, 'This is not the setup code.');
      this.accounts.set(body.name, { ...body, role: 'builder', created: now(), last_seen: null });
      return this.open(body.name, 201);
    }
    if (path === '/api/sign-in') {
      if (this.tooOften) return { ...problem(429, 'Tried too often. Wait 20 s.'), headers: { 'Retry-After': '20' } };
      if (this.accounts.get(body.name)?.password !== body.password) return problem(401, 'Name or password is wrong.');
      return this.open(body.name, 200);
    }
    if (!visitor) return problem(401, 'Sign in first.');
    if (request.method === 'GET') return this.read(path, url, visitor);
    if (request.headers.origin !== url.origin) return problem(403, 'Another site asks.');
    if (request.headers['x-tagline-csrf'] !== visitor.csrf) {
      return problem(403, 'Send the csrf along.', { type: '/problems/csrf' });
    }
    this.note(visitor.name, path.slice('/api/'.length));
    return this.change(path, visitor, body);
  }

  read(path, url, visitor) {
    const reaches = (role) => roles.indexOf(visitor.role) >= roles.indexOf(role);
    if (['/api/accounts', '/api/tokens'].includes(path) && !reaches('builder')) return problem(403, 'Builders only.');
    if (path === '/api/accounts') {
      return { status: 200, body: { accounts: [...this.accounts.values()].map(({ password, ...a }) => a) } };
    }
    if (path === '/api/tokens') return { status: 200, body: { tokens: this.tokens } };
    if (path !== '/api/audit') return undefined;
    if (!reaches('supervisor')) return problem(403, 'Supervisors only.');
    const before = Number(url.searchParams.get('before') ?? Infinity);
    const entries = this.audit.filter((e) => e.id < before).slice(0, Number(url.searchParams.get('limit')));
    return { status: 200, body: { entries } };
  }

  change(path, visitor, body) {
    const [, , kind, id, what] = path.split('/').map(decodeURIComponent);
    const account = this.accounts.get(id);
    if (kind === 'sign-out') {
      this.sessions.delete(visitor.cookie);
      return { status: 204 };
    }
    if (kind === 'accounts' && !id) {
      if (this.accounts.has(body.name)) return problem(409, `There is an account "${body.name}" already.`);
      this.accounts.set(body.name, { ...body, created: now(), last_seen: null });
      return { status: 201, body: { name: body.name, role: body.role } };
    }
    if (kind === 'accounts' && what === 'role') account.role = body.role;
    if (kind === 'accounts' && what === 'remove') this.accounts.delete(id);
    if (kind === 'accounts' && what === 'password') {
      if (id === visitor.name && body.old !== account.password) return problem(401, 'The old password is wrong.');
      account.password = body.password;
    }
    if (kind === 'tokens' && !id) {
      const { days, ...rest } = body;
      const expires = new Date(Date.now() + days * 86_400_000).toISOString();
      const token = { id: `t${this.tokens.length + 1}`, ...rest, created: now(), expires, last_used: null };
      this.tokens.push(token);
      return { status: 201, body: { ...token, token: 'tl_shown-only-once' } };
    }
    if (kind === 'tokens' && what === 'revoke') this.tokens = this.tokens.filter((t) => t.id !== id);
    return kind === 'accounts' || kind === 'tokens' ? { status: 204 } : undefined;
  }
}
