// Starts the page of the day's figures, at /figures.
import { FiguresPage } from '../figures/figures_page.tsx';
import { startPage } from '../page/start.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/top.css';
import 'uplot/dist/uPlot.min.css';
import '../look/figures.css';

startPage((store) => <FiguresPage store={store} />);
