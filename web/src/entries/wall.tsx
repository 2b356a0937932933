// Starts the wall view, at /wall.
import { startWithFloor } from '../page/start.tsx';
import { WallPage } from '../wall/wall_page.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/floor.css';
import '../look/wall.css';

startWithFloor((store) => <WallPage store={store} />);
