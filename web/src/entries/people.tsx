// Starts the page of accounts, tokens and the audit log, at /people.
import { PeoplePage } from '../people/people_page.tsx';
import { startPage } from '../page/start.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/top.css';
import '../look/people.css';

startPage((store) => <PeoplePage store={store} />);
