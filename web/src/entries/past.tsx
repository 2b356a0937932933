// Starts the page of the past, at /past.
import { render } from 'preact';
import { pageRoot } from '../page/root.ts';
import { PastPage } from '../past/past_page.tsx';
import { PastStore } from '../past/past_store.ts';
import '../look/base.css';
import '../look/parts.css';
import '../look/top.css';
import '../look/board.css';
import '../look/standing.css';
import '../look/floor.css';
import '../look/past.css';

const store = new PastStore();
render(<PastPage store={store} />, pageRoot());
void store.start();
