// What a file of browser tests stands on: one browser for all of them, a fresh fake service for each,
// and every page closed after it.
import { after, afterEach, before, beforeEach } from 'node:test';
import { launch } from './browser.mjs';
import { FakeService } from './fake_service.mjs';

export let browser;
export let service;

/** Call once in a file; `prepare` then sees to each test's service, and `floor` is what it serves. */
export function setStage(prepare = () => {}, floor = undefined) {
  before(async () => {
    browser = await launch();
  });
  after(async () => {
    await browser?.close();
  });
  beforeEach(async () => {
    service = await new FakeService(floor).start();
    await prepare();
  });
  afterEach(async () => {
    await Promise.all(browser.contexts().map((context) => context.close()));
    await service.stop();
  });
}
