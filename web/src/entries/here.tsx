// Starts the operator's page, at /here and /here/STATION.
import { HerePage } from '../here/here_page.tsx';
import { startWithFloor } from '../page/start.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/here.css';

startWithFloor((store) => <HerePage store={store} />);
