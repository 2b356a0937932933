// Starts the wall view, at /wall.
import { startPage } from '../page/start.tsx';
import { WallPage } from '../wall/wall_page.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/floor.css';
import '../look/wall.css';

startPage((store) => <WallPage store={store} />);
