// A sheet to print: one QR code a station, which opens that station's page on a phone.
import { useMemo, useState } from 'preact/hooks';
import type { Station } from '../api/types.ts';
import { AccountBar } from '../door/account_bar.tsx';
import { recall, remember } from '../page/memory.ts';
import { useStore, type Store } from '../page/store.ts';
import { linkTo, troubleWith } from './address.ts';
import { drawQr } from './qr.ts';

export function CodesPage({ store }: { store: Store }) {
  useStore(store);
  const [base, setBase] = useState(() => recall('codes', location.origin));
  const trouble = troubleWith(base);
  const stations = store.plan?.floor.stations;
  return (
    <main class="codes">
      <header class="no-print">
        <AccountBar store={store} />
        <h1>Codes for the stations</h1>
        <p>
          Hang each at its station. Whoever scans it with a phone gets the page of that station, to send
          and fetch loads. Print at full size, black on white.
        </p>
        <form
          onSubmit={(event) => {
            event.preventDefault();
            if (!trouble) window.print();
          }}
        >
          <label class="field">
            <span>Address of this service, as phones reach it</span>
            <input
              type="url"
              inputMode="url"
              autocomplete="off"
              value={base}
              aria-describedby="address-trouble"
              data-testid="address"
              onInput={(event) => {
                setBase(event.currentTarget.value);
                remember('codes', event.currentTarget.value);
              }}
            />
          </label>
          <p class="outcome bad" id="address-trouble" role="status" data-testid="address-trouble">
            {trouble}
          </p>
          <button class="main wide" type="submit" disabled={!!trouble || !stations} data-testid="print">
            Print
          </button>
        </form>
      </header>
      {!stations && <p class="none">{store.floorError || 'The stations are being fetched.'}</p>}
      {stations && !trouble && (
        <ul class="sheet" data-testid="sheet">
          {stations.map((station) => (
            <Code key={station.id} station={station} base={base} />
          ))}
        </ul>
      )}
    </main>
  );
}

function Code({ station, base }: { station: Station; base: string }) {
  const link = linkTo(base, station.id);
  const drawing = useMemo(() => drawQr(link), [link]);
  return (
    <li class="code" data-testid={`code-${station.id}`}>
      <h2>{station.name}</h2>
      <svg
        role="img"
        aria-label={`QR code of ${link}`}
        viewBox={`0 0 ${drawing.size} ${drawing.size}`}
        shape-rendering="crispEdges"
      >
        <path d={drawing.path} />
      </svg>
      <p>Send or fetch a load here: scan, or open</p>
      <p class="code-link">
        <a href={link}>{link}</a>
      </p>
    </li>
  );
}
