// Starts the board, at /.
import { Board } from '../page/board.tsx';
import { startPage } from '../page/start.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/top.css';
import '../look/board.css';
import '../look/closing.css';
import '../look/floor.css';

startPage((store) => <Board store={store} />);
