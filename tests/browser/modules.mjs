// The page's one package.json (web/) also holds what these tests need; take it from there.
import { createRequire } from 'node:module';

const fromWeb = createRequire(new URL('../../web/package.json', import.meta.url));

export const { chromium } = fromWeb('playwright-core');
export const { WebSocketServer } = fromWeb('ws');
