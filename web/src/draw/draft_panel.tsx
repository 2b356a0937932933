// The draft: saved, published with what will follow, files in and out, and files of before.
import { useState } from 'preact/hooks';
import { Confirm } from '../page/confirm.tsx';
import type { Store } from '../page/store.ts';
import { momentWords } from '../words/words.ts';
import type { Desk } from './desk.ts';
import { fromText, fromValue, toText } from './file.ts';
import { office, type Changes, type Edition, type Told } from './office.ts';

const moment = (text: string) => momentWords(Date.parse(text), Date.now());

export function DraftPanel({ store, desk }: { store: Store; desk: Desk }) {
  const [changes, setChanges] = useState<Changes | null>(null);
  const [busy, setBusy] = useState('');
  const { draft } = desk;
  const during = async (what: string, act: () => Promise<void>) => {
    setBusy(what);
    await act();
    setBusy('');
  };
  const ask = () =>
    during('Looking at what would change', async () => {
      if (!(await desk.save())) return;
      const answer = await office.changes();
      if (answer.ok) setChanges(answer.value);
      else store.say(false, answer.text);
    });
  const publish = (version: number) =>
    during('Publishing', async () => {
      const answer = await office.publish(version);
      store.say(answer.ok, answer.ok ? 'Published. The service starts anew on this floor; the carts come back by themselves.' : `Not published: ${answer.text}`);
    });
  return (
    <section class="panel" aria-labelledby="draft-title" data-testid="draft">
      <h2 id="draft-title">Draft</h2>
      <p data-testid="draft-state">
        {draft.saved_at ? `Version ${draft.version}, saved by ${draft.saved_by} on ${moment(draft.saved_at)}` : 'No draft: this is the floor in use'}
        {desk.unsaved && <span class="tag wait">not saved</span>}
      </p>
      <div class="draw-actions">
        <button class="main" onClick={() => void during('Saving', async () => void (await desk.save()))} disabled={!!busy || !desk.unsaved} data-testid="save">Save draft</button>
        <button onClick={() => void ask()} disabled={!!busy} data-testid="publish">Publish …</button>
      </div>
      <p role="status" class="none">{busy && `${busy} …`}</p>
      <Files store={store} desk={desk} />
      {changes && <PublishQuestion store={store} changes={changes} onYes={() => void publish(changes.version)} onClose={() => setChanges(null)} />}
    </section>
  );
}

function Files({ store, desk }: { store: Store; desk: Desk }) {
  const [editions, setEditions] = useState<Edition[]>([]);
  const take = (read: ReturnType<typeof fromText>, what: string) => {
    if (read.ok) desk.step(read.file);
    store.say(read.ok, read.ok ? `${what} is on the sheet; nothing is saved yet. Undo brings back what was there.` : read.text);
  };
  const fetched = async (asking: ReturnType<typeof office.inUse>, what: string) => {
    const answer = await asking;
    if (answer.ok) take(fromValue(answer.value), what);
    else store.say(false, answer.text);
  };
  const give = () => {
    const url = URL.createObjectURL(new Blob([toText(desk.file!)], { type: 'application/json' }));
    const link = document.createElement('a');
    link.href = url;
    link.download = `${desk.file!.name.replace(/[^A-Za-z0-9]+/g, '-').toLowerCase() || 'floor'}.floor.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(url), 10_000);
  };
  return (
    <details
      onToggle={(event) => {
        if (event.currentTarget.open) void office.history().then((answer) => answer.ok && setEditions(answer.value.editions));
      }}
    >
      <summary data-testid="files">Files, and floors of before</summary>
      <label class="field">
        <span>Put a floor file on the sheet</span>
        <input
          type="file"
          accept=".json,application/json"
          data-testid="import"
          onChange={async (event) => {
            const input = event.currentTarget;
            const [file] = input.files ?? [];
            if (file) take(fromText(await file.text()), file.name);
            input.value = '';
          }}
        />
      </label>
      <div class="draw-actions">
        <button onClick={give} data-testid="export">Get this as a floor file</button>
        <button onClick={() => void fetched(office.inUse(), 'The floor in use')} data-testid="take-in-use">Take the floor in use</button>
        <button onClick={() => void desk.load()} data-testid="take-draft">Fetch the draft</button>
      </div>
      <ul class="draw-editions" data-testid="editions">
        {editions.map((one) => (
          <li key={one.number}>
            <button class="quiet" onClick={() => void fetched(office.edition(one.number), `Floor ${one.number}`)} data-testid={`edition-${one.number}`}>
              Floor {one.number}
            </button>{' '}
            <span class="none">{moment(one.at)}, {one.by ? `published by ${one.by}` : 'put there by hand'}</span>
          </li>
        ))}
      </ul>
    </details>
  );
}

function PublishQuestion(props: { store: Store; changes: Changes; onYes(): void; onClose(): void }) {
  const { store, changes, onYes, onClose } = props;
  const refused = changes.against.length > 0;
  return (
    <Confirm store={store} title={refused ? 'This draft can’t be published' : 'Publish this floor?'} yes="Publish" danger notYet={refused} onYes={onYes} onClose={onClose}>
      <div class="draw-changes" data-testid="changes" tabIndex={0} role="group" aria-label="What will change">
        {refused ? (
          <Part title="Against it" told={changes.against.map((text) => ({ text }))} />
        ) : (
          <>
            <p>
              The carts come to rest where they may drive to now, and the service starts anew on this floor, within some seconds.{' '}
              {changes.places_anew
                ? 'The track lies differently: everything is then stopped until a person has placed every cart on the floor and released it.'
                : 'The track lies as before: the carts then go on by themselves.'}
            </p>
            <Part title="Carts to be placed" told={changes.carts} />
            <Part title="Jobs that end" told={changes.jobs} />
            <Part title="Loads forgotten" told={changes.loads} />
          </>
        )}
        <Part title="On the floor" told={changes.things} none="Nothing is changed." />
      </div>
    </Confirm>
  );
}

function Part({ title, told, none }: { title: string; told: Told[] | undefined; none?: string }) {
  if (!told || (told.length === 0 && !none)) return null;
  return (
    <>
      <h3>{title}</h3>
      {told.length === 0 ? <p>{none}</p> : <ul>{told.map(({ text }, k) => <li key={k}>{text}</li>)}</ul>}
    </>
  );
}
