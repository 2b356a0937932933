// Who gets in: my own password for everybody, the audit log for supervisors, accounts and tokens for
// builders.
import { useEffect } from 'preact/hooks';
import { AccountBar } from '../door/account_bar.tsx';
import { roleMay, roleWords } from '../door/me.ts';
import { Header } from '../page/header.tsx';
import { NoticeBar } from '../page/notice.tsx';
import { useStore, type Store } from '../page/store.ts';
import { AccountList } from './account_list.tsx';
import { AuditLog } from './audit_log.tsx';
import { OwnPassword } from './own_password.tsx';
import { TokenList } from './token_list.tsx';

export function PeoplePage({ store }: { store: Store }) {
  useStore(store);
  useEffect(() => {
    document.title = 'People, Tagline';
  }, []);
  const { me } = store;
  return (
    <>
      <Header store={store} />
      <AccountBar store={store} />
      <main class="people">
        <NoticeBar store={store} />
        {!me && <p class="none">Nobody is signed in: this service has no accounts, or does not answer.</p>}
        {me && (
          <section class="panel" aria-labelledby="me-title">
            <h2 id="me-title">{me.name}</h2>
            <p data-testid="my-role">
              {roleWords[me.role]}: {roleMay[me.role]}.
            </p>
            {me.demo ? <p class="none">The demo lets everybody in; there is no password.</p> : <OwnPassword me={me} store={store} />}
          </section>
        )}
        {me?.role === 'builder' && <AccountList store={store} me={me} />}
        {me?.role === 'builder' && <TokenList store={store} />}
        {me && store.may('supervisor') && <AuditLog store={store} />}
      </main>
    </>
  );
}
