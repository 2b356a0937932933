// The page on which a builder draws the floor: the sheet, what is chosen, the check, the draft.
import { useEffect, useMemo, useState } from 'preact/hooks';
import { AccountBar } from '../door/account_bar.tsx';
import { Header } from '../page/header.tsx';
import { NoticeBar } from '../page/notice.tsx';
import { useStore, type Store } from '../page/store.ts';
import { TryoutDesk } from '../tryout/desk.ts';
import { PlayLayer } from '../tryout/play_layer.tsx';
import { TryoutPanel } from '../tryout/tryout_panel.tsx';
import { WatchBar } from '../tryout/watch_bar.tsx';
import { Desk } from './desk.ts';
import { DraftPanel } from './draft_panel.tsx';
import { NumberField, TextField } from './fields.tsx';
import { FindingList } from './finding_list.tsx';
import { PictureDesk } from './picture_desk.ts';
import { PicturePanel } from './picture_panel.tsx';
import { SurveyPanel } from '../survey/survey_panel.tsx';
import { Sheet } from './sheet.tsx';
import { ThingFields, ThingList } from './thing_fields.tsx';
import { Tools, type Tool } from './tools.tsx';
import { toPx } from './window.ts';

/** Without a floor there is nothing on the page: after so long it is asked for again, ms. */
const loadAgain = 3_000;

export function DrawPage({ store }: { store: Store }) {
  useStore(store);
  const [, setDrawn] = useState(0);
  const redraw = () => setDrawn((n) => n + 1);
  const desk = useMemo(() => new Desk(store, redraw), [store]);
  const picture = useMemo(() => new PictureDesk(redraw), [store]);
  const tryouts = useMemo(() => new TryoutDesk(redraw), [store]);
  const [tool, setTool] = useState<Tool>('move');
  const [grid, setGrid] = useState(50);
  const may = store.may('builder');
  const run = store.board.run;
  // What was tried on another drawing has no place on this one.
  const tried = desk.file && tryouts.shown?.drawing === desk.file ? tryouts.shown : null;

  useEffect(() => {
    document.title = 'Floor, Tagline';
    void picture.start();
  }, []);

  // A service that was started anew has another floor, and perhaps no draft any more.
  useEffect(() => {
    if (!may || !run || desk.unsaved) return;
    let ended = false;
    let timer = 0;
    const load = async () => {
      await desk.load();
      if (!ended && !desk.file) timer = window.setTimeout(() => void load(), loadAgain);
    };
    void load();
    return () => {
      ended = true;
      clearTimeout(timer);
    };
  }, [may, run]);

  useEffect(() => {
    const keys = (event: KeyboardEvent) => {
      const typing = (event.target as Element).closest('input:not([type=radio]):not([type=checkbox]), select, dialog');
      if (!(event.ctrlKey || event.metaKey) || typing) return;
      const letter = event.key.toLowerCase();
      if (letter === 'z' && !event.shiftKey) desk.back();
      else if (letter === 'y' || letter === 'z') desk.forth();
      else return;
      event.preventDefault();
    };
    const leaving = (event: BeforeUnloadEvent) => {
      if (desk.unsaved) event.preventDefault();
    };
    document.addEventListener('keydown', keys);
    window.addEventListener('beforeunload', leaving);
    return () => {
      document.removeEventListener('keydown', keys);
      window.removeEventListener('beforeunload', leaving);
    };
  }, [desk]);

  return (
    <>
      <Header store={store} />
      <AccountBar store={store} />
      <main class="draw">
        <h1 class="unseen">The floor</h1>
        <NoticeBar store={store} />
        {!may && <p class="panel none" data-testid="not-yours">Builders draw the floor. The board shows it.</p>}
        {may && desk.trouble && <p class="panel outcome bad" role="status" data-testid="draw-trouble">{desk.trouble}</p>}
        {may && desk.file && (
          <>
            <div class="draw-sheet">
              <Tools desk={desk} tool={tool} setTool={setTool} grid={grid} setGrid={setGrid} picture={picture.laid !== null} />
              <Sheet
                desk={desk}
                picture={picture}
                tool={tool}
                grid={grid}
                over={tried ? (window) => <PlayLayer tried={tried} px={(at) => toPx(window, at)} scale={window.scale} points={desk.file!.points} body={bodyOf(desk)} /> : undefined}
              />
              {tried && <WatchBar key={tried} tried={tried} onHide={() => tryouts.show(null)} />}
            </div>
            <div class="draw-side">
              <section class="panel" aria-labelledby="chosen-title">
                <h2 id="chosen-title">Chosen</h2>
                <ThingFields desk={desk} />
              </section>
              <DraftPanel store={store} desk={desk} />
              <FindingList desk={desk} />
              <SurveyPanel store={store} desk={desk} redraw={redraw} />
              <TryoutPanel desk={tryouts} drawing={desk.file} demand={demandOf(desk)} most={desk.check?.check?.max_live_carts ?? null} against={against(desk)} />
              <section class="panel" aria-labelledby="list-title">
                <h2 id="list-title">Everything on it</h2>
                <button onClick={() => desk.addPoint(middleOf(desk))} data-testid="add-point">Add a point</button>
                <ThingList desk={desk} />
                <FloorFields desk={desk} />
              </section>
              <PicturePanel picture={picture} />
            </div>
          </>
        )}
      </main>
    </>
  );
}

/** A file may leave out what a cart measures; then it is found wrong, and drawn like this. */
const bodyOf = (desk: Desk) => ({ length: desk.file!.cart?.['length'] ?? 600, width: desk.file!.cart?.['width'] ?? 400 });

const demandOf = (desk: Desk) => (desk.file!.demand ?? []).reduce((sum, flow) => sum + (flow.per_hour || 0), 0);

/** Why there is nothing to try out yet; what the check says is beside it. */
const against = ({ check, checking }: Desk) =>
  check && !checking && !check.may_run && !check.too_long ? 'Carts must not run on it yet: see the check.' : '';

/** Beside what is chosen, so that it can be found again. */
const middleOf = (desk: Desk): [number, number] => {
  const [x, y] = desk.chosenPlace ?? [0, 0];
  return [x + 500, y];
};

function FloorFields({ desk }: { desk: Desk }) {
  const file = desk.file!;
  const body = [['length', 'Length, mm', undefined], ['width', 'Width, mm', undefined], ['reader_to_nose', 'Reader behind the nose, mm', '0'], ['speed', 'Speed, mm/s', '400'], ['clearance', 'Clearance, mm', '100']] as const;
  return (
    <details>
      <summary>Name, and the largest cart</summary>
      <TextField label="Name of the floor" value={file.name} testId="floor-name" set={(name) => desk.step({ ...file, name })} />
      <div class="draw-pair">
        {body.map(([key, label, standard]) => (
          <NumberField
            key={key}
            label={label}
            value={file.cart?.[key]}
            {...(standard === undefined ? {} : { standard })}
            least={0}
            testId={`cart-${key}`}
            set={(value) => {
              const { [key]: gone, ...rest } = file.cart;
              void gone;
              desk.step({ ...file, cart: value === undefined ? rest : { ...rest, [key]: value } });
            }}
          />
        ))}
      </div>
    </details>
  );
}
