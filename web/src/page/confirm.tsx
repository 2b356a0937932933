// A question before something that moves carts or frees track: the platform's own dialog, so that
// focus, Escape and screen readers work as everywhere.
import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { StopButton } from './stop_button.tsx';
import type { Store } from './store.ts';

export interface ConfirmProps {
  store: Store;
  title: string;
  /** Words on the button that does it. */
  yes: string;
  danger?: boolean;
  /** The button stays shut while this is true. */
  notYet?: boolean;
  onYes(): void;
  onClose(): void;
  children: ComponentChildren;
}

export function Confirm(props: ConfirmProps) {
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const element = dialog.current;
    if (element && !element.open) element.showModal();
    return () => element?.close();
  }, []);
  return (
    <dialog ref={dialog} aria-labelledby="confirm-title" onClose={props.onClose} data-testid="confirm">
      <form
        method="dialog"
        onSubmit={(event) => {
          event.preventDefault();
          if (props.notYet) return;
          props.onYes();
          props.onClose();
        }}
      >
        <h2 id="confirm-title">{props.title}</h2>
        {props.children}
        <div class="buttons">
          <button type="button" class="quiet" onClick={props.onClose} data-testid="confirm-no">
            Go back
          </button>
          <button
            type="submit"
            class={props.danger ? 'danger' : 'main'}
            disabled={props.notYet ?? false}
            data-testid="confirm-yes"
          >
            {props.yes}
          </button>
        </div>
      </form>
      {/* An open dialog shuts off the rest of the page, and with it the other stop button. */}
      <div class="dialog-stop">
        <StopButton store={props.store} testId="stop-all-in-dialog" />
      </div>
    </dialog>
  );
}
