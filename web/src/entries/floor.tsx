// Starts the page on which a builder draws the floor, at /floor.
import { DrawPage } from '../draw/draw_page.tsx';
import { startPage } from '../page/start.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/top.css';
import '../look/floor.css';
import '../look/draw.css';
import '../look/tryout.css';

startPage((store) => <DrawPage store={store} />);
