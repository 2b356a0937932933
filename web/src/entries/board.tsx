// Starts the board, at /.
import { Board } from '../page/board.tsx';
import { startWithFloor } from '../page/start.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/top.css';
import '../look/board.css';
import '../look/standing.css';
import '../look/closing.css';
import '../look/floor.css';

startWithFloor((store) => <Board store={store} />);
