// Starts the page at /setup.
import { render } from 'preact';
import { SetupPage } from '../door/setup_page.tsx';
import { pageRoot } from '../page/root.ts';
import '../look/base.css';
import '../look/parts.css';
import '../look/door.css';

render(<SetupPage />, pageRoot());
