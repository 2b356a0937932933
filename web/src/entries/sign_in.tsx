// Starts the page at /sign-in.
import { render } from 'preact';
import { SignInPage } from '../door/sign_in_page.tsx';
import { pageRoot } from '../page/root.ts';
import '../look/base.css';
import '../look/parts.css';
import '../look/door.css';

render(<SignInPage />, pageRoot());
