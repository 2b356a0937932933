// How smooth and how soon the pages are, in Chromium on this machine: frames a second with 60 carts
// gliding on the board, and the time to the first useful paint on a throttled profile.
//
//   node tests/bench/pages/pages_bench.mjs          (web/dist must be built: npm run build in web)
//
// Limits (issue 5): 30 frames a second or better with 60 carts; below 1 s. Beside each figure stands
// what this machine gives at best: frames of an empty page, and the paint of a page of one word, both in the
// same run and under the same throttling.
import { createServer } from 'node:http';
import { desk, launch, newPage, phone } from '../../browser/browser.mjs';
import { cartAt, pathPoint } from '../../browser/fake_floor.mjs';
import { FakeService } from '../../browser/fake_service.mjs';

const cartCount = 60;
const watched = 8_000;
/** Common practice for a slow link, no source: 1.6 Mbit/s, 150 ms there and back; and for a phone a
 *  processor four times slower than this one. */
const slowLink = { offline: false, latency: 150, downloadThroughput: 200_000, uploadThroughput: 94_000 };
const phoneSlowness = 4;

/** A ring of `count` points 5 m apart, every second one a siding's worth of room. */
function ring(count) {
  const radius = (count * 5_000) / (2 * Math.PI);
  const points = Array.from({ length: count }, (_, i) => {
    const angle = (2 * Math.PI * i) / count;
    return {
      id: `P${i}`, x: Math.round(radius * Math.cos(angle)), y: Math.round(radius * Math.sin(angle)),
      siding: false, turn_round: false, tagged: true,
    };
  });
  const segments = points.map((p, i) => {
    const q = points[(i + 1) % count];
    const line = [[p.x, p.y], [q.x, q.y]];
    const length = Math.round(Math.hypot(q.x - p.x, q.y - p.y));
    return { id: `S${i}`, from: p.id, to: q.id, line, length, speed: 400, two_way: false, spur: false };
  });
  return {
    name: 'Ring', pace: 1, live_limit: { carts: count, reason: 'bench' },
    cart: { length: 600, width: 400, reader_to_nose: 100, speed: 400, acceleration: 300, deceleration: 600, clearance: 100 },
    points, segments, stations: [{ id: 'CAST', name: 'Casting', point: 'P0', capacity: null, loads: null }], chargers: [],
  };
}

/** Cart i on its way from point 2i + `on` for ten more points. */
function driving(i, on, count) {
  const at = (k) => `P${(2 * i + on + k) % count}`;
  const along = (k) => `S${(2 * i + on + k - 1 + count) % count}`;
  const path = Array.from({ length: 11 }, (_, k) => pathPoint(on + k + 1, at(k), along(k)));
  return cartAt(`cart-${i + 1}`, at(0), along(0), {
    mode: 'driving', path, authority: 10, passed_at: new Date().toISOString(), holds: [at(0), along(1), at(1)],
  });
}

const framesOf = (page) =>
  page.evaluate(
    (time) =>
      new Promise((done) => {
        const gaps = [];
        let last = performance.now();
        const end = last + time;
        const step = (now) => {
          gaps.push(now - last);
          last = now;
          if (now < end) requestAnimationFrame(step);
          else done({ rate: (1_000 * gaps.length) / time, worst: Math.max(...gaps) });
        };
        requestAnimationFrame(step);
      }),
    watched,
  );

async function smoothness(browser) {
  const count = 2 * cartCount;
  const service = await new FakeService(ring(count)).start();
  service.carts.clear();
  for (let i = 0; i < cartCount; i++) service.carts.set(`cart-${i + 1}`, driving(i, 0, count));
  const page = await newPage(browser, desk);
  await page.goto(service.url);
  await page.waitForSelector('[data-testid=cart-cart-60]');
  // Every cart reads a tag about each 12 s; the service tells of them a few at a time.
  let on = 0;
  let next = 0;
  const reads = setInterval(() => {
    if (next === 0) on += 1;
    service.change({ carts: [driving(next, on, count)] });
    next = (next + 1) % cartCount;
  }, 200);
  const places = () => page.evaluate(() => [...document.querySelectorAll('[data-testid^=cart-cart-]')].map((g) => `${g.dataset.x} ${g.dataset.y}`));
  const before = await places();
  const seen = await framesOf(page);
  const after = await places();
  clearInterval(reads);
  const moved = after.filter((place, i) => place !== before[i]).length;
  const empty = await newPage(browser, desk);
  await empty.goto('about:blank');
  const best = await framesOf(empty);
  await page.context().close();
  await empty.context().close();
  await service.stop();
  console.log(
    `${cartCount} carts, ${moved} of them seen to move, 5 reads a second: ${seen.rate.toFixed(1)} frames a second, ` +
      `longest gap ${seen.worst.toFixed(0)} ms; an empty page: ${best.rate.toFixed(1)}`,
  );
}

async function throttled(browser, size, slowness, url, useful) {
  const page = await newPage(browser, size);
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Network.enable');
  await cdp.send('Network.setCacheDisabled', { cacheDisabled: true });
  await cdp.send('Network.emulateNetworkConditions', slowLink);
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: slowness });
  await page.addInitScript((selector) => {
    const look = () => {
      // The frame after the one in which it stands there: then it has been painted.
      if (document.querySelector(selector)) requestAnimationFrame(() => setTimeout(() => { window.usefulAt = performance.now(); }));
      else requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  }, useful);
  await page.goto(url);
  await page.waitForFunction(() => window.usefulAt !== undefined, null, { timeout: 30_000 });
  const at = await page.evaluate(() => window.usefulAt);
  await page.context().close();
  return at;
}

const middle = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];

async function soonness(browser) {
  const word = createServer((_, response) => response.writeHead(200, { 'Content-Type': 'text/html' }).end('<p id="w">word</p>'));
  await new Promise((done) => word.listen(0, '127.0.0.1', done));
  const service = await new FakeService().start();
  const oneWord = `http://127.0.0.1:${word.address().port}/`;
  const floor = '[data-testid=floor]';
  const rows = [
    ['a page of one word, phone', phone, phoneSlowness, oneWord, '#w'],
    ['operator’s page, phone: send and fetch can be pressed', phone, phoneSlowness, `${service.url}here/GLAZE`, '[data-testid=send]'],
    ['board, phone: the floor', phone, phoneSlowness, service.url, floor],
    ['a page of one word, desk', desk, 1, oneWord, '#w'],
    ['board, desk: the floor', desk, 1, service.url, floor],
    ['board, desk: its carts', desk, 1, service.url, '[data-testid=cart-cart-2]'],
    ['wall, desk: whether the floor runs', desk, 1, `${service.url}wall`, '[data-testid=figures]'],
  ];
  for (const [what, size, slowness, url, useful] of rows) {
    const times = [];
    for (let i = 0; i < 5; i++) times.push(await throttled(browser, size, slowness, url, useful));
    console.log(`${what}: ${middle(times).toFixed(0)} ms (median of 5; ${times.map((t) => t.toFixed(0)).join(', ')})`);
  }
  await service.stop();
  word.close();
}

const browser = await launch();
try {
  await smoothness(browser);
  await soonness(browser);
} finally {
  await browser.close();
}
