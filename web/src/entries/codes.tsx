// Starts the sheet of QR codes, at /codes.
import { CodesPage } from '../codes/codes_page.tsx';
import { startPage } from '../page/start.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/codes.css';

startPage((store) => <CodesPage store={store} />);
