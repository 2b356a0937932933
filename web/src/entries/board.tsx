// Starts the page.
import { render } from 'preact';
import { Board } from './page/board.tsx';
import { Store } from './page/store.ts';
import './look/base.css';
import './look/board.css';
import './look/floor.css';

const root = document.getElementById('board');
if (!root) throw new Error('index.html has no element "board"');
const store = new Store();
render(<Board store={store} />, root);
store.start();
