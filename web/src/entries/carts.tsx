// Starts the page of the carts that may connect, at /carts.
import { CartsPage } from '../fleet/carts_page.tsx';
import { startPage } from '../page/start.tsx';
import '../look/base.css';
import '../look/parts.css';
import '../look/top.css';
import '../look/people.css';

startPage((store) => <CartsPage store={store} />);
