// A survey of the fake service (server/net/API.md, "A survey"): a test says what the cart reads.
export class FakeSurvey {
  survey = null;
  reads = [];
  /** Why none may begin; "": one may. */
  against = '';
  count = 0;

  /** Answers for that service, before its office does. */
  serve(service) {
    const before = service.answer;
    service.answer = (method, path, body, headers, url) =>
      path.startsWith('/api/floor/survey') ? this.answer(method, path, body, url) : before(method, path, body, headers, url);
    return this;
  }

  answer(method, path, body, url) {
    if (method === 'POST' && path.endsWith('/end')) this.end('demo has ended it.');
    else if (method === 'POST') {
      if (this.against) return { status: 409, body: { title: 'No survey can begin', detail: this.against } };
      this.reads = [];
      this.count += 1;
      this.survey = { cart: body.cart, by: 'demo', since: new Date(1_795_600_000_000 + this.count * 60_000).toISOString(), ended: null, connected: true, tells_moving: false, full: false };
    }
    const after = Number(url.searchParams.get('after') ?? 0);
    const survey = this.survey && { ...this.survey, last: this.reads.length, reads: this.reads.filter((read) => read.number > after) };
    return { status: 200, body: { survey } };
  }

  end(why) {
    if (this.survey) this.survey.ended = why;
  }

  /** The cart reads a tag so many seconds after the last one. */
  read(tag, seconds, more = {}) {
    const at_ms = (this.reads.at(-1)?.at_ms ?? 0) + seconds * 1_000;
    this.reads.push({ number: this.reads.length + 1, tag, at_ms, stood_ms: 0, late: false, ...more });
  }
}
